// On a narrow screen the sheet scrolls in its own frame: begin where "now" is, else where
// something is held. Without this it begins at its left.
for (const frame of document.querySelectorAll("[data-frame]")) {
  const mark = frame.querySelector(".strip .now") ?? frame.querySelector(".strip .hit");
  if (!mark || frame.scrollWidth <= frame.clientWidth) continue;
  frame.scrollLeft += mark.getBoundingClientRect().left - frame.getBoundingClientRect().left - frame.clientWidth / 3;
}
