// A line to the server that comes back by itself, and knows how far the server's time is ahead of ours.

import { best, own_ms, sample } from "/static/rehearsing/clock.js";

const PAUSES_MS = [100, 200, 400, 800, 1000];
const OPENS_WITHIN_MS = 2500; // a network that is gone often says nothing for minutes
const QUIET_MS = 5000; // without any answer for so long the line is given up and opened anew
const FIRST_PINGS = 10;
const FIRST_EVERY_MS = 80;
const EVERY_MS = 2000;
const KEPT = 30;
const ENOUGH = 3; // samples of a new line before its offset replaces the old one
const CLOSED = 4404;

export class Line {
  // heard(message) gets every message but the answers to pings; changed(state) gets "open", "gone" or "closed".
  constructor(path, { hello, heard, changed }) {
    this.address = `${location.protocol === "https:" ? "wss" : "ws"}://${location.host}${path}`;
    Object.assign(this, { hello, heard, changed, tries: 0, samples: [], known: null, heard_ms: own_ms(), state: "gone" });
    addEventListener("online", () => this.again(0));
    document.addEventListener("visibilitychange", () => document.hidden || this.look());
    this.open();
  }

  server_ms() {
    return own_ms() + (this.known ? this.known.offset_ms : 0);
  }

  say(message) {
    if (this.state !== "open" || this.socket.readyState !== WebSocket.OPEN) return false;
    this.socket.send(JSON.stringify(message));
    return true;
  }

  open() {
    clearTimeout(this.timer);
    const socket = new WebSocket(this.address);
    this.socket = socket;
    this.tries += 1;
    this.timer = setTimeout(() => this.again(), OPENS_WITHIN_MS);
    socket.onopen = () => this.socket === socket && this.opened();
    socket.onmessage = (event) => this.socket === socket && this.take(JSON.parse(event.data));
    socket.onclose = (event) => this.socket === socket && this.lost(event.code);
  }

  opened() {
    clearTimeout(this.timer);
    this.tries = 0;
    this.samples = [];
    this.heard_ms = own_ms();
    this.state = "open";
    this.say(this.hello()); // before anything else
    this.changed("open");
    this.pings = 0;
    this.ping();
  }

  lost(code) {
    clearTimeout(this.timer);
    if (code === CLOSED) this.turn("closed");
    else if (this.state !== "closed") this.again(PAUSES_MS[Math.min(this.tries, PAUSES_MS.length - 1)]);
  }

  again(pause_ms = PAUSES_MS[Math.min(this.tries, PAUSES_MS.length - 1)]) {
    if (this.state === "closed" || (pause_ms === 0 && this.state === "open")) return;
    clearTimeout(this.timer);
    const old = this.socket;
    this.socket = null;
    old?.close();
    this.turn("gone");
    this.timer = setTimeout(() => this.open(), pause_ms);
  }

  turn(state) {
    if (this.state === state) return;
    this.state = state;
    this.changed(state);
  }

  ping() {
    clearTimeout(this.timer);
    if (this.state !== "open") return;
    if (own_ms() - this.heard_ms > QUIET_MS) return this.again();
    this.say({ kind: "ping", sent_ms: own_ms(), ...(this.known ?? {}) });
    this.pings += 1;
    this.timer = setTimeout(() => this.ping(), this.pings < FIRST_PINGS ? FIRST_EVERY_MS : EVERY_MS);
  }

  // A phone that slept may find its line dead, and its own time beside the server's: measure anew.
  look() {
    if (this.state !== "open") return this.again(0);
    this.pings = 0;
    this.heard_ms = own_ms() - QUIET_MS + OPENS_WITHIN_MS;
    this.samples = [];
    this.ping();
  }

  take(message) {
    const back_ms = own_ms();
    this.heard_ms = back_ms;
    if (message.kind !== "pong") return this.heard(message);
    this.samples.push(sample(message.sent_ms, message.arrived_ms, message.answered_ms, back_ms));
    if (this.samples.length > KEPT) this.samples.shift();
    if (this.known === null || this.samples.length >= ENOUGH) this.known = best(this.samples);
  }
}
