/** A sign for each kind of step, on the same 24 x 24 board as the other signs. It always stands beside a word. */
const KINDS: Record<string, string> = {
  survey: "M10 4a6 6 0 1 0 .1 0M15 15l6 6",
  open_up: "M4 21V11h16v10zM4 11L7 4l14 3",
  dry_out: "M12 3c4 6 6 8 6 11a6 6 0 0 1-12 0c0-3 2-5 6-11zM3 3l18 18",
  grind: "M11 6a7 7 0 1 0 .1 0M11 11a2 2 0 1 0 .1 0M17 7l5-5",
  sand: "M4 5h16v7H4zM2 18l3-2 3 2 3-2 3 2 3-2 3 2 2-1",
  clean: "M5 9h14l-2 12H7zM7 9c0-7 10-7 10 0",
  mask: "M2 8h20v8H2zM8 8l-3 8M14 8l-3 8M20 8l-3 8",
  laminate: "M12 3l9 4-9 4-9-4zM3 12l9 4 9-4M3 17l9 4 9-4",
  fillet: "M4 3v17h17M4 9c0 7 4 11 11 11",
  fair: "M9 3h6v5l4 4H5l4-4zM3 19c6-4 12-4 18 0",
  coat: "M4 4h13v5H4zM17 6h4v6h-9v3M10 15h4v6h-4z",
  bed: "M8 10h8v11H8zM10 10V6h4v4M12 6V2",
  fit: "M8 3h8l4 8-4 8H8l-4-8zM12 8a3 3 0 1 0 .1 0",
  inspect: "M2 12c5-8 15-8 20 0-5 8-15 8-20 0zM12 9a3 3 0 1 0 .1 0",
  wait: "M6 3h12M6 21h12M7 3c0 6 5 6 5 9s-5 3-5 9M17 3c0 6-5 6-5 9s5 3 5 9",
  trip: "M2 6h12v10H2zM14 9h4l4 4v3h-8M6 16a2 2 0 1 0 .1 0M17 16a2 2 0 1 0 .1 0",
};

export const kindPath = (kind: string): string => KINDS[kind] ?? "M5 5h14v14H5z";

export function KindIcon({ kind }: { kind: string }) {
  return (
    <svg class="icon" viewBox="0 0 24 24" aria-hidden="true" focusable="false">
      <path d={kindPath(kind)} />
    </svg>
  );
}
