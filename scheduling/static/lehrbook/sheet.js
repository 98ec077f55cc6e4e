// On a narrow screen the sheet scrolls in its own frame: begin where "now" is. Without this it begins on Monday.
for (const frame of document.querySelectorAll("[data-frame]")) {
  const now = frame.querySelector(".strip .now");
  if (!now || frame.scrollWidth <= frame.clientWidth) continue;
  frame.scrollLeft += now.getBoundingClientRect().left - frame.getBoundingClientRect().left - frame.clientWidth / 3;
}
