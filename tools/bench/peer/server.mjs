// The peer's server: a general replication engine over LevelDB. Words: port, folder for its data.
import { createRequire } from "node:module";

const require = createRequire(import.meta.url);
const [port, folder] = [Number(process.argv[2]), process.argv[3]];
const PouchDB = require("pouchdb").defaults({ prefix: `${folder}/` });
const app = require("express")();
const options = { inMemoryConfig: true, mode: "minimumForPouchDB", logPath: `${folder}/log.txt` };
app.use("/", require("express-pouchdb")(PouchDB, options));
app.listen(port, "127.0.0.1", () => console.log("up"));
