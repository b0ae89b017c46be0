// Fingers on the curves: two spread or close to see less or more time, one drags along. Up and down stays the page's.

const LEAST = 24; // px between two fingers: closer together they say nothing

// `curves` has since, until, plane() (the rectangle that time runs across), glide(since, until) while fingers move, and
// settle() once they have left.
export function followFingers(node, curves) {
  const fingers = new Map();
  let held = [];
  let moved = false;
  let due = null;

  // Remembers which moment is under each finger; it stays there.
  function hold() {
    const { left, width } = curves.plane();
    const slope = (curves.until - curves.since) / width;
    held = [...fingers].map(([id, x]) => ({ id, time: curves.since + (x - left) * slope, x, slope }));
  }

  function follow() {
    due = null;
    const { left, width } = curves.plane();
    const [one, other] = held.map((finger) => ({ ...finger, now: fingers.get(finger.id) }));
    if (one?.now === undefined) return;
    let slope = one.slope;
    if (other) {
      const apart = other.now - one.now;
      if (Math.abs(apart) < LEAST || apart * (other.x - one.x) <= 0) return;
      slope = (other.time - one.time) / apart;
    }
    const since = one.time - (one.now - left) * slope;
    curves.glide(since, since + width * slope);
  }

  const listen = (name, done) => node.addEventListener(name, (event) => event.pointerType === "touch" && done(event));
  listen("pointerdown", (event) => {
    if (fingers.size === 2) return;
    fingers.set(event.pointerId, event.clientX);
    hold();
  });
  listen("pointermove", (event) => {
    if (!fingers.has(event.pointerId)) return;
    fingers.set(event.pointerId, event.clientX);
    moved = true;
    due ??= requestAnimationFrame(follow);
  });
  for (const name of ["pointerup", "pointercancel"])
    listen(name, (event) => {
      if (!fingers.has(event.pointerId)) return;
      if (due !== null) {
        cancelAnimationFrame(due);
        if (name === "pointerup") follow();
        due = null;
      }
      fingers.delete(event.pointerId);
      hold();
      if (!fingers.size && moved) curves.settle();
      moved = moved && fingers.size > 0;
    });
  // Two fingers are ours alone: the browser would take them for a scroll.
  node.addEventListener("touchstart", (event) => event.touches.length > 1 && event.cancelable && event.preventDefault(), {
    passive: false,
  });
}
