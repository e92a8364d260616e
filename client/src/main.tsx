/** Starts the page: the language first, then the screens. */
import { effect } from "@preact/signals";
import { render } from "preact";
import { myself, text } from "./parts/know.ts";
import { Shell } from "./screens/shell.tsx";
import { watchUpdates } from "./store/update.ts";
import { me } from "./store/view.ts";
import { start } from "./sync/start.ts";
import { phoneLanguage, speak } from "./words/index.ts";
import "./styles/all.css";

const spokenByMe = () => text(myself(), "language") || me.value?.language;

effect(() => {
  const wanted = spokenByMe();
  if (wanted) speak(wanted);
});

async function begin(): Promise<void> {
  await start();
  await speak(spokenByMe() ?? phoneLanguage());
  const board = document.getElementById("app");
  if (board) render(<Shell />, board);
  watchUpdates().catch((error: unknown) => console.warn(error));
}

begin();
