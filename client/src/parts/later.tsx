/** Screens that arrive a moment after they were asked for. */
import type { ComponentType } from "preact";
import { useState } from "preact/hooks";
import { allWords, say } from "../words/index.ts";

export type Screen = ComponentType<{ path: string[] }>;

/** Fetch a screen when it is first shown, with the words that it says; after that it is there at once. */
export function later(fetchScreen: () => Promise<Screen>): Screen {
  let arrived: Screen | null = null;
  return function Later({ path }) {
    const [screen, setScreen] = useState<{ it: Screen } | null>(arrived && { it: arrived });
    const [failed, setFailed] = useState(false);
    if (!screen && !failed)
      Promise.all([fetchScreen(), allWords()]).then(
        ([it]) => {
          arrived = it;
          setScreen({ it });
        },
        () => setFailed(true),
      );
    if (failed) return <Broke />;
    return screen ? <screen.it path={path} /> : <p class="wait">{say("app.wait")}</p>;
  };
}

export function Broke() {
  return (
    <section class="problem" role="alert">
      <p>{say("app.broke")}</p>
      <button type="button" class="button" onClick={() => location.reload()}>
        {say("app.reload")}
      </button>
    </section>
  );
}
