// The connection: one socket, opened again when it breaks, and watched for silence.

const SILENT_MS = 1500;
const FIRST_RETRY_MS = 400;
const LONGEST_RETRY_MS = 3000;
const NO_RECORDING = 4404;

export function wanted() {
  const query = new URLSearchParams(location.search);
  return { recording: query.get("recording"), tick: query.get("tick") ?? "0" };
}

function address() {
  const { recording, tick } = wanted();
  const scheme = location.protocol === "https:" ? "wss:" : "ws:";
  const path = recording
    ? "/recording/" + encodeURIComponent(recording) + "?tick=" + encodeURIComponent(tick)
    : "/live";
  return scheme + "//" + location.host + path;
}

export class Link {
  // on: { hello, frame, lost }. lost(words, final) is called once for every loss.
  constructor(on) {
    this.on = on;
    this.retry = FIRST_RETRY_MS;
    this.heard = 0;
    this.isLost = false;
    this.open();
    setInterval(() => this.listenForSilence(), 250);
  }

  open() {
    const socket = new WebSocket(address());
    this.socket = socket;
    socket.onmessage = (event) => this.take(JSON.parse(event.data));
    socket.onclose = (event) => {
      if (socket !== this.socket) return;
      if (event.code === NO_RECORDING) {
        this.lose("This recording cannot be shown: " + event.reason, true);
        return;
      }
      this.lose("Connection lost. Nothing here is true any more; trying again.", false);
      setTimeout(() => this.open(), this.retry);
      this.retry = Math.min(this.retry * 1.6, LONGEST_RETRY_MS);
    };
  }

  take(message) {
    this.heard = performance.now();
    if (message.hello) {
      this.retry = FIRST_RETRY_MS;
      this.isLost = false;
      this.on.hello(message.hello);
      return;
    }
    if (this.isLost) return;
    this.on.frame(message);
  }

  listenForSilence() {
    const isOpen = this.socket.readyState === WebSocket.OPEN;
    if (isOpen && this.heard && performance.now() - this.heard > SILENT_MS) {
      this.lose("The panel has fallen silent. Nothing here is true any more.", false);
      this.heard = 0;
      this.socket.close();
    }
  }

  lose(words, final) {
    if (this.isLost && !final) return;
    this.isLost = true;
    this.on.lost(words, final);
  }

  send(message) {
    if (this.socket.readyState === WebSocket.OPEN && !this.isLost) this.socket.send(JSON.stringify(message));
  }
}
