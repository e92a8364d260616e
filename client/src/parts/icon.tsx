/** Our own few signs, drawn on a 24 x 24 board. They always stand beside a word. */
const LINES = {
  now: "M3 20h18M6 20V8M12 20V4M18 20v-8",
  work: "M2 8h20l-3 8H6zM12 8V3",
  log: "M4 20l1-5L16 4l4 4L9 19zM3 22h18",
  crew: "M8 3a3.5 3.5 0 1 0 .1 0M2 21v-4c0-6 12-6 12 0v4M17 5a3 3 0 1 0 .1 0M17 13c4 0 5 2 5 4v4",
  settle: "M12 3v18M4 8h16M4 8l-2 7h5zM20 8l-3 7h5z",
  back: "M14 4l-8 8 8 8M6 12h15",
  on: "M5 12h13M13 6l6 6-6 6",
  add: "M12 4v16M4 12h16",
  coat: "M4 4h13v5H4zM17 6h4v6h-9v3M10 15h4v6h-4z",
  mix: "M5 8h14l-2 13H7zM15 8l3-6M5 8c3 3 11 3 14 0",
  reading: "M10 14V4h4v10M10 14a4 4 0 1 0 4 0M12 10v7",
  found: "M10 4a6 6 0 1 0 .1 0M15 15l6 6M10 7v3",
  note: "M5 3h14v18H5zM8 8h8M8 12h8M8 16h5",
  sums: "M4 7h7M7.5 3.5v7M14 7h6M4 14l6 6M10 14l-6 6M14 15h6M14 19h6",
  hours: "M12 3a9 9 0 1 0 .1 0M12 7v5l4 3",
  photo: "M3 7h5l2-3h4l2 3h5v13H3zM12 10a4 4 0 1 0 .1 0",
  care: "M12 3L2 21h20zM12 10v5M12 17v1",
  bell: "M6 17V10a6 6 0 0 1 12 0v7l2 2H4zM10 21h4",
  tick: "M4 13l5 6L20 5",
  hold: "M7 4v16M17 4v16",
  send: "M12 20V5M6 11l6-6 6 6M4 21h16",
  person: "M12 3a4 4 0 1 0 .1 0M4 21v-4c0-3 16-3 16 0v4",
  phone: "M7 2h10v20H7zM11 18h2",
  mirror: "M12 2v20M9 7L3 17h6zM15 7l6 10h-6z",
} as const;

export type IconName = keyof typeof LINES;

export function Icon({ name }: { name: IconName }) {
  return (
    <svg class="icon" viewBox="0 0 24 24" aria-hidden="true" focusable="false">
      <path d={LINES[name]} />
    </svg>
  );
}
