// Draws nothing: asks now and then whether the session that this page was shown to still holds. Where it does not, the
// page goes, and the way in comes in its place; what waits on this tablet is kept. Where nobody answers it stays.

const EVERY_MS = 20000;
let of = null;

async function ask() {
  if (!of || document.visibilityState === "hidden") return;
  const answer = await fetch(`/course/still?of=${of}`, { cache: "no-store", credentials: "same-origin" }).catch(() => null);
  if (answer?.status === 401) location.reload();
}

export default function ({ data }) {
  if (!of) {
    setInterval(ask, EVERY_MS);
    document.addEventListener("visibilitychange", ask);
  }
  of = data.of;
}
