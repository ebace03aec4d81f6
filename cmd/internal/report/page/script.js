
const items = () => document.querySelectorAll("details.item");
let shut = [];
addEventListener("beforeprint", () => {
  shut = [...items()].filter((d) => !d.open && !d.classList.contains("said"));
  shut.forEach((d) => (d.open = true));
});
addEventListener("afterprint", () => shut.forEach((d) => (d.open = false)));

const reveal = () => {
  const target = document.getElementById(decodeURIComponent(location.hash.slice(1)));
  if (!target) return;
  const all = document.getElementById("show-all");
  if (all && target.closest("details.item")) all.checked = true;
  for (let d = target.closest("details"); d; d = d.parentElement.closest("details")) d.open = true;
  target.scrollIntoView();
};
addEventListener("hashchange", reveal);
if (location.hash) reveal();

const fold = document.getElementById("fold");
if (fold) {
  fold.hidden = false;
  fold.addEventListener("click", () => {
    const open = fold.getAttribute("aria-pressed") !== "true";
    fold.setAttribute("aria-pressed", open);
    items().forEach((d) => (d.open = open));
  });
}
