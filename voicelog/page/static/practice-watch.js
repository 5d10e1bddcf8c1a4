// The scripted examiner's scenes, one after the other: a sweep for each look, its voice for each line.

const LOOK_MS = 3200;
const LINE_MS = 900;
const LETTER_MS = 55;

export class Watch {
  // `shows` gets each scene as it begins, `ends` is called behind the last one; `speaks` says whether lines are heard.
  constructor(scenes, base, { shows, ends, speaks }) {
    this.scenes = scenes;
    this.base = base;
    this.shows = shows;
    this.ends = ends;
    this.speaks = speaks;
    this.at = -1;
    this.playing = false;
    this.sound = null;
    this.timer = 0;
  }

  get over() {
    return this.at >= this.scenes.length;
  }

  play() {
    if (this.playing || this.over) return;
    this.playing = true;
    this.next();
  }

  pause() {
    this.playing = false;
    this.hush();
  }

  // On to the next scene at once, whatever the one before was doing.
  next() {
    if (this.over) return;
    this.hush();
    this.at += 1;
    if (this.over) {
      this.playing = false;
      this.ends();
      return;
    }
    const scene = this.scenes[this.at];
    this.shows(scene);
    if (!this.playing) return;
    const on = () => this.playing && this.scenes[this.at] === scene && this.next();
    if (scene.look) this.timer = setTimeout(on, LOOK_MS);
    else this.say(scene, on);
  }

  hush() {
    clearTimeout(this.timer);
    this.sound?.pause();
    this.sound = null;
  }

  say(scene, on) {
    const silent = () => (this.timer = setTimeout(on, LINE_MS + LETTER_MS * scene.text.length));
    if (!this.speaks()) {
      silent();
      return;
    }
    const sound = (this.sound = new Audio(`${this.base}/practice/watch/${scene.line}.wav`));
    sound.addEventListener("ended", () => this.sound === sound && (this.timer = setTimeout(on, LINE_MS)));
    sound.play().catch(() => this.sound === sound && silent());
  }
}
