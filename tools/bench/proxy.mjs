// Counts what goes over a socket, heads and bodies, and may hold each piece back for half a round trip.
// Words: own port, port to pass on to, one way in milliseconds, own port for questions.
import { createServer } from "node:http";
import { connect, createServer as listen } from "node:net";

const [port, to, way_ms, questions] = process.argv.slice(2).map(Number);
const HEAD = /(?:GET|HEAD|POST|PUT|DELETE|OPTIONS) \/\S* HTTP\/1\.1\r\n/g;
const STATUS = /HTTP\/1\.1 (\d{3}) /g;
let count = fresh();

function fresh() {
  return { requests: 0, up_b: 0, down_b: 0, failures: 0 };
}

function pass(from, onto, note) {
  from.on("data", (piece) => {
    note(piece);
    if (way_ms === 0) onto.write(piece);
    else setTimeout(() => onto.writable && onto.write(piece), way_ms);
  });
  from.on("end", () => setTimeout(() => onto.end(), way_ms));
  from.on("error", () => onto.destroy());
}

listen((phone) => {
  phone.setNoDelay(true);
  const server = connect(to, "127.0.0.1");
  server.setNoDelay(true);
  pass(phone, server, (piece) => {
    count.up_b += piece.length;
    count.requests += (piece.toString("latin1").match(HEAD) ?? []).length;
  });
  pass(server, phone, (piece) => {
    count.down_b += piece.length;
    for (const [, status] of piece.subarray(0, 64).toString("latin1").matchAll(STATUS)) {
      if (status >= "500") count.failures += 1;
    }
  });
}).listen(port, "127.0.0.1");

createServer((_, answer) => {
  answer.end(JSON.stringify(count));
  count = fresh();
}).listen(questions, "127.0.0.1", () => console.log("up"));
