// Runs a script in MicroPython: folder of the node, script. The node's files lie in /flash of its file system.
import fs from "fs";
import path from "path";
import { loadMicroPython } from "./vendor/micropython.mjs";

const [folder, script] = process.argv.slice(2);
const chip = await loadMicroPython({ stdout: (line) => console.log(line), linebuffer: true });
chip.FS.mkdir("/flash");
for (const file of fs.readdirSync(folder).filter((name) => name.endsWith(".py"))) {
  chip.FS.writeFile(`/flash/${file}`, fs.readFileSync(path.join(folder, file), "utf8"));
}
chip.runPython(`import sys\nsys.argv[:] = ["script", "/flash", "/readings.ring"]\n${fs.readFileSync(script, "utf8")}`);
