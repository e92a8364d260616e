// Takes orders as JSON lines from whoever started this process, one after the other, and answers each with a line.
import { createInterface } from "node:readline";

/** Serve orders by name; what is handed to `timed` is measured in seconds. */
export async function serve(orders) {
  for await (const line of createInterface({ input: process.stdin })) {
    const order = JSON.parse(line);
    let took_s = 0;
    const timed = async (what) => {
      const began = performance.now();
      const made = await what();
      took_s = (performance.now() - began) / 1000;
      return made;
    };
    try {
      const said = await orders[order.do](order, timed);
      console.log(JSON.stringify({ ...said, took_s }));
    } catch (error) {
      console.log(JSON.stringify({ error: String(error?.stack ?? error) }));
    }
  }
  process.exit(0);
}
