// Heap of the whole firmware under a 32-bit MicroPython: 4-byte objects and 16-byte blocks, as on the board.
// Arguments: folder of the npm package's module, folder of a flashed board, heap in bytes, board file.
// Prints one line a step: what, bytes in use, bytes free. Steps are calls of their own: this build of
// MicroPython collects only between them.
import fs from "fs";
import path from "path";

const [module, folder, heap, board] = process.argv.slice(2);
const { loadMicroPython } = await import(path.resolve(module, "micropython.mjs"));
const mp = await loadMicroPython({ heapsize: Number(heap), stdout: (line) => console.log(line), linebuffer: true });

function copy(from, to) {
  for (const name of fs.readdirSync(from)) {
    const source = path.join(from, name);
    const target = to + "/" + name;
    if (fs.statSync(source).isDirectory()) {
      mp.FS.mkdir(target);
      copy(source, target);
    } else {
      mp.FS.writeFile(target, fs.readFileSync(source));
    }
  }
}

function step(what, code) {
  mp.runPython(code);
  mp.runPython("gc.collect()");
  mp.runPython(`print("${what}|" + str(gc.mem_alloc()) + "|" + str(gc.mem_free()))`);
}

copy(folder, "");
step("stand-ins for the hardware", fs.readFileSync(new URL("micropython/stand_ins.py", import.meta.url), "utf8"));
step("board file imported", `from oxlatch.boards import ${board} as here\nhere.outputs_off()\nhere.maintenance()`);
step("everything imported", "import oxlatch.startup\nfrom oxlatch.startup import build");
step("loop made", "board = here.Board()\nloop = build(board)\ndel build\nloop.restart_clock()");
step("start-up let go", 'from oxlatch.let_go import let_go\nlet_go("startup")\ndel oxlatch');
step("200 ticks run", "for _ in range(200):\n    loop.wait()\n    loop.tick()");
