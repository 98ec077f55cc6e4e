// The week sheet with JavaScript: where a narrow frame begins, and details that open beside their piece.
// Without it the frame begins at its left, and a piece is opened by its own address.

for (const frame of document.querySelectorAll("[data-frame]")) {
  const mark = frame.querySelector("[aria-current] .hit") ?? frame.querySelector(".strip .now") ?? frame.querySelector(".strip .hit");
  if (!mark || frame.scrollWidth <= frame.clientWidth) continue;
  frame.scrollLeft += mark.getBoundingClientRect().left - frame.getBoundingClientRect().left - frame.clientWidth / 3;
}

const opened = () => document.querySelector(".held[aria-current]");
const panel = () => document.getElementById("piece");

// A link inside the details names another piece by its address.
function pieceOf(link) {
  const address = link.getAttribute("href");
  return link.closest(".row") ? link : [...document.querySelectorAll("a.held")].find((one) => one.getAttribute("href") === address);
}

function close() {
  const piece = opened();
  panel()?.remove();
  piece?.removeAttribute("aria-current");
  return piece;
}

async function open(piece) {
  close();
  const place = document.createElement("div");
  place.id = "piece";
  place.className = "piece piece-waits";
  place.setAttribute("aria-busy", "true");
  piece.closest(".row").after(place);
  piece.setAttribute("aria-current", "true");
  const address = piece.getAttribute("href");
  await htmx.ajax("GET", address.split("#")[0], { target: "#piece", swap: "outerHTML" });
  history.replaceState(null, "", address);
  panel()?.focus();
}

document.addEventListener("click", (event) => {
  if (!window.htmx || event.button || event.ctrlKey || event.metaKey || event.shiftKey || event.altKey) return;
  const link = event.target.closest?.("a.held, a[data-piece], a[data-close]");
  if (!link) return;
  if (link.matches("[data-close]")) {
    const piece = close();
    if (!piece) return;
    event.preventDefault();
    history.replaceState(null, "", link.getAttribute("href"));
    piece.focus();
    return;
  }
  const piece = pieceOf(link);
  if (!piece) return;
  event.preventDefault();
  open(piece);
});

document.addEventListener("keydown", (event) => {
  if (event.key === "Escape" && opened()) panel()?.querySelector("[data-close]")?.click();
});
