/** The sound of an alarm: two tones in turn, loud, made on the spot so that nothing has to be fetched. */
import { type ReadonlySignal, signal } from "@preact/signals";

const HIGH_HZ = 1760;
const LOW_HZ = 1175;
const TONE_S = 0.22;
const PAIRS = 10;
const TEST_PAIRS = 2;
const LOUDNESS = 0.9;

let context: AudioContext | null = null;
const ready = signal(false);

/** A tap has unlocked the sound on this page. */
export const soundReady: ReadonlySignal<boolean> = ready;

/** From a tap: browsers let a page sound only after one. */
export async function unlockSound(): Promise<void> {
  if (typeof AudioContext === "undefined") return;
  context ??= new AudioContext();
  await context.resume().catch(() => {});
  ready.value = context.state === "running";
}

/** Sound the alarm, or a short test of it; silent where no tap has unlocked it. */
export function sound(test = false): void {
  if (context === null || context.state !== "running") return;
  const gain = new GainNode(context, { gain: 0 });
  const tone = new OscillatorNode(context, { type: "square", frequency: HIGH_HZ });
  tone.connect(gain).connect(context.destination);
  const begin = context.currentTime + 0.02;
  const pairs = test ? TEST_PAIRS : PAIRS;
  for (let n = 0; n < pairs; n++) {
    const at = begin + n * 2.5 * TONE_S;
    tone.frequency.setValueAtTime(HIGH_HZ, at);
    tone.frequency.setValueAtTime(LOW_HZ, at + TONE_S);
    gain.gain.setValueAtTime(LOUDNESS, at);
    gain.gain.setValueAtTime(0, at + 2 * TONE_S);
  }
  tone.start(begin);
  tone.stop(begin + pairs * 2.5 * TONE_S);
}
