/** A line at the bottom that says what was just done, or why it could not be done. */
import { signal } from "@preact/signals";
import { OfflineError, ProblemError } from "../store/view.ts";
import { knows, say } from "../words/index.ts";

interface Said {
  text: string;
  bad: boolean;
}

const line = signal<Said | null>(null);
let clearing: ReturnType<typeof setTimeout> | undefined;

export function tell(text: string, bad = false): void {
  line.value = { text, bad };
  clearTimeout(clearing);
  clearing = setTimeout(hush, bad ? 20_000 : 6_000);
}

export function hush(): void {
  line.value = null;
}

/** What the server has against something: in the person's language where the kind is known here, else in its words. */
export function problemInWords(problem: { type: string; title?: string; detail: string }): string {
  const key = `why.${(problem.type.split(":").at(-1) ?? "").replaceAll("-", "_")}`;
  return knows(key) ? say(key) : problem.detail || problem.title || "";
}

/** Why something did not work. */
export function whyNot(error: unknown): string {
  if (error instanceof OfflineError) return say("problem.offline");
  if (error instanceof ProblemError) return problemInWords(error);
  return error instanceof Error ? error.message : String(error);
}

/** Do something and say what came of it. Answers false when it did not work; what was typed stays. */
export async function attempt(deed: () => Promise<unknown>, done: string): Promise<boolean> {
  try {
    await deed();
  } catch (error) {
    tell(say("said.failed", { why: whyNot(error) }), true);
    return false;
  }
  if (done) tell(done);
  return true;
}

export function SaidLine() {
  const said = line.value;
  return (
    <div role="status" data-testid="said">
      {said && (
        <div class="said" data-tone={said.bad ? "gone" : "open"}>
          <span class="said-words">{said.text}</span>
          <button type="button" class="button" onClick={hush}>
            {say("go.close")}
          </button>
        </div>
      )}
    </div>
  );
}
