// The chart of a patient answers to pointer, touch and keyboard: it says what was recorded at a time.

for (const wide of document.querySelectorAll(".ends-right")) wide.scrollLeft = wide.scrollWidth; // the newest is seen first

const chart = document.querySelector("[data-chart]");
const pick = document.getElementById("pick");
if (chart && pick) {
  const output = pick.parentElement.querySelector("[data-picked]");
  const table = document.querySelector("table.readings");
  const readings = [...table.tBodies[0].rows];
  const [line, ring] = ["cursor", "ring"].map((name) => {
    const mark = document.createElement("span");
    mark.className = name;
    mark.hidden = true;
    chart.append(mark);
    return mark;
  });
  const words = (row) => row.dataset.said;

  const show = (number) => {
    pick.value = number;
    const row = readings[number - 1];
    const across = Number(row.dataset.across);
    const volumes = chart.firstElementChild.getBoundingClientRect().height;
    line.hidden = false;
    line.style.left = `${across}%`;
    ring.hidden = row.dataset.down === undefined;
    ring.style.left = `${across}%`;
    ring.style.top = `${(Number(row.dataset.down) / 100) * volumes}px`;
    output.textContent = words(row);
    pick.setAttribute("aria-valuetext", words(row));
    for (const each of readings) each.classList.toggle("picked", each === row);
  };

  const nearest = (event) => {
    const box = chart.getBoundingClientRect();
    const across = ((event.clientX - box.left) / box.width) * 100;
    const far = (row) => Math.abs(Number(row.dataset.across) - across);
    return readings.reduce((best, row, at) => (far(row) < far(readings[best]) ? at : best), 0) + 1;
  };

  pick.parentElement.hidden = false;
  for (const kind of ["input", "focus"]) pick.addEventListener(kind, () => show(Number(pick.value)));
  chart.addEventListener("pointermove", (event) => show(nearest(event)));
  chart.addEventListener("pointerdown", (event) => show(nearest(event)));
  chart.closest(".wide").addEventListener("keydown", (event) => {
    const step = { ArrowLeft: -1, ArrowRight: 1 }[event.key];
    if (!step) return;
    event.preventDefault();
    show(Math.min(Math.max(Number(pick.value) + (line.hidden ? 0 : step), 1), readings.length));
  });
  output.textContent = words(readings.at(-1));
  pick.setAttribute("aria-valuetext", words(readings.at(-1)));
}
