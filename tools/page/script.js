"use strict";
// All is there without this script; it adds searching, sorting and pointing.

const table = document.getElementById("list");
const body = table.tBodies[0];
const rows = [...body.rows];
const search = document.getElementById("search");
const band = document.getElementById("band");
const least = document.getElementById("least");
const shown = document.getElementById("shown");
const heads = [...table.tHead.rows[0].cells];
const column = name => heads.findIndex(th => th.textContent === name);
const text = rows.map(row => row.textContent.toLowerCase());
const bands = rows.map(row => row.cells[column("band")].textContent);
const overs = rows.map(row => Number(row.cells[column("overs")].textContent));

// Digits are meant for the frequency: "155.2" is all that begins so.
function fits(i, word) {
	if (/^\d+\.?\d*$/.test(word))
		return rows[i].cells[0].textContent.startsWith(word);
	return text[i].includes(word);
}

function filter() {
	const words = search.value.toLowerCase().split(/\s+/).filter(Boolean);
	let n = 0;
	rows.forEach((row, i) => {
		row.hidden = !((!band.value || bands[i] === band.value) && overs[i] >= Number(least.value) &&
			words.every(word => fits(i, word)));
		n += !row.hidden;
	});
	shown.textContent = `${n} of ${rows.length} shown`;
}

function sort(k, type) {
	const down = heads[k].getAttribute("aria-sort") === "ascending";
	const value = row => type === "number" ? parseFloat(row.cells[k].textContent) || 0 : row.cells[k].textContent;
	const keyed = [...body.rows].map(row => [value(row), row]);
	keyed.sort(([a], [b]) => (type === "number" ? a - b : a < b ? -1 : a > b ? 1 : 0) * (down ? -1 : 1));
	heads.forEach(th => th.removeAttribute("aria-sort"));
	heads[k].setAttribute("aria-sort", down ? "descending" : "ascending");
	body.append(...keyed.map(([, row]) => row));
}

heads.forEach((th, k) => {
	if (!th.dataset.sort)
		return;
	const button = document.createElement("button");
	button.type = "button";
	button.append(...th.childNodes);
	button.addEventListener("click", () => sort(k, th.dataset.sort));
	th.append(button);
});
for (const input of [search, band, least])
	input.addEventListener("input", filter);
document.getElementById("tools").hidden = false;
filter();

// A link to a channel opens it.
function open() {
	const at = document.getElementById(location.hash.slice(1));
	const details = at && at.closest("details");
	if (details) {
		details.open = true;
		details.scrollIntoView();
	}
}
addEventListener("hashchange", open);
open();

// What a picture shows where it is pointed at; a click searches there.
function pointed(field, event) {
	const box = field.getBoundingClientRect();
	const { hz, row, ms, span, tall, lines } = field.dataset;
	const y = Math.min(Math.max(event.clientY - box.top, 0), tall - 1);
	const line = Math.floor(y / tall * lines);
	const time = new Date(Number(ms) + (event.clientX - box.left) / box.width * span);
	return [((Number(hz) + line * row) / 1e6).toFixed(4), time.toISOString().slice(11, 16)];
}

document.querySelectorAll(".field").forEach(field => {
	const say = field.closest("figure").querySelector(".pointed");
	field.addEventListener("pointermove", event => {
		say.textContent = pointed(field, event).join(" MHz, ");
	});
	field.addEventListener("pointerleave", () => { say.textContent = ""; });
	field.addEventListener("click", event => {
		search.value = pointed(field, event)[0].replace(/\d$/, "");
		filter();
		search.scrollIntoView();
	});
});
