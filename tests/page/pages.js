"use strict";
// report.html and plan.html as a person meets them, in Chromium: node pages.js PAGE_NIGHT RECEIVER
// Environment: BANDCENSUS, the built program. Skipped where there is no Chromium with its driver.
const { execFileSync } = require("node:child_process");
const fs = require("node:fs");
const os = require("node:os");
const path = require("node:path");
const { Browser } = require("./browser.js");
const { tap, assert } = require("./tap.js");

const { KEY } = Browser;
const HOSTILE = "<script>hurt=1</script>&amp;\"'?";	// U+202E is shown as ?
const A4 = { paperWidth: 8.27, paperHeight: 11.69 };
const LETTER = { paperWidth: 8.5, paperHeight: 11 };

const there = program => process.env.PATH.split(":").some(d => fs.existsSync(path.join(d, program)));
if (!["chromium", "chromedriver", "pdftotext"].every(there)) {
	console.log("1..1\nnot ok 1 # SKIP needs chromium, chromedriver and pdftotext");
	process.exit(0);
}

const folder = fs.mkdtempSync(path.join(os.tmpdir(), "test-pages-"));
const [pageNight, receiver] = process.argv.slice(2);
const bandcensus = (...words) => execFileSync(process.env.BANDCENSUS, words,
	{ cwd: folder, env: { ...process.env, TZ: "UTC" }, maxBuffer: 1 << 28 }).toString();

function make() {
	execFileSync(pageNight, [folder]);
	const with_ = ["night.survey", "--receiver", receiver, "--licences", "list.csv", "--interests", "interests.conf"];
	bandcensus("report", ...with_, "--output", "out");
	bandcensus("plan", ...with_, "--output", "out");
}

const url = name => "file://" + path.join(folder, "out", name);
const channels = () => JSON.parse(bandcensus("channels", "night.survey", "--json"));

// A file's text, page by page.
function printed(bytes) {
	const file = path.join(folder, "page.pdf");
	fs.writeFileSync(file, bytes);
	return execFileSync("pdftotext", ["-layout", file, "-"]).toString().split("\f").slice(0, -1);
}

// WCAG 2.1, relative luminance and contrast ratio (from memory).
function contrast(a, b) {
	const light = text => {
		const [r, g, bl] = text.match(/[\d.]+/g).map(v => v / 255)
			.map(v => v <= 0.03928 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
		return 0.2126 * r + 0.7152 * g + 0.0722 * bl;
	};
	const [high, low] = [light(a), light(b)].sort((x, y) => y - x);
	return (high + 0.05) / (low + 0.05);
}

async function main() {
	make();
	const b = await Browser.open();
	const shown = () => b.run("return [...document.querySelectorAll('#list tbody tr')].filter(r => !r.hidden)" +
		".map(r => [...r.cells].map(c => c.textContent))");
	const fresh = async (name = "report.html") => {
		await b.size(1366, 768);
		await b.scheme("light");
		await b.open("about:blank");
		await b.complaints();
		await b.requests();
		await b.open(url(name));
	};
	const quiet = async () => {
		assert.deepEqual(await b.complaints(), []);
		const asked = (await b.requests()).filter(u => !u.startsWith("data:") && !u.startsWith("file://" + folder));
		assert.deepEqual(asked, []);
	};
	const unhurt = async scripts => {
		const is = await b.run("return { hurt: typeof hurt, scripts: document.scripts.length, " +
			"images: document.getElementsByTagName('img').length, bold: document.querySelectorAll('td i').length, " +
			"loads: document.querySelectorAll('[onload],[onerror]').length, text: document.body.innerText }");
		assert.equal(is.hurt, "undefined");
		assert.equal(is.scripts, scripts);
		assert.equal(is.images + is.bold + is.loads, 0);
		assert.ok(!is.text.includes("\u202e"), "U+202E is shown");
		assert.ok(is.text.includes("<script>hurt=1</script>"), "the name is not shown as it is");
		assert.ok(is.text.includes("<img src=http://example.invalid/"), "the licence is not shown as it is");
	};

	const cases = [
		["report: asks nothing of a network and complains of nothing", async () => {
			await fresh();
			await quiet();
		}],
		["report: names that are mark-up are shown and do nothing", async () => {
			await fresh();
			assert.ok((await b.run("return document.querySelector('h1').textContent")).endsWith(HOSTILE));
			await unhurt(1);
		}],
		["report: its policy stops what would have got through", async () => {
			await fresh();
			await b.run("const s = document.createElement('script'); s.textContent = 'hurt=2'; document.body.append(s);" +
				"const i = new Image(); i.src = 'http://example.invalid/x'; document.body.append(i)");
			assert.equal(await b.run("return typeof hurt"), "undefined");
			assert.ok((await b.complaints()).some(c => c.includes("Content Security Policy")));
			await b.requests();
		}],
		["report: every channel of the census is in the table, in figures", async () => {
			await fresh();
			const rows = await shown(), want = channels();
			assert.equal(rows.length, want.length);
			for (const c of want) {
				const row = rows.find(r => Math.abs(Number(r[0]) * 1e6 - c.frequency_hz) < 1);
				assert.ok(row, `${c.frequency_hz} is missing`);
				assert.equal(Number(row[4]), c.overs);
			}
		}],
		["report: searches by frequency", async () => {
			await fresh();
			await b.type("#search", "154.2");
			const rows = await shown();
			assert.ok(rows.length > 0 && rows.every(r => r[0].startsWith("154.2")), JSON.stringify(rows));
		}],
		["report: searches by words, all of which must be there", async () => {
			await fresh();
			await b.type("#search", "business nfm");
			const rows = await shown();
			assert.ok(rows.length > 0 && rows.every(r => /business/.test(r.join()) && r[3] === "nfm"));
			assert.equal(await b.run("return document.getElementById('shown').textContent"),
				`${rows.length} of ${channels().length} shown`);
		}],
		["report: shows one band, or those with overs enough", async () => {
			await fresh();
			const all = await shown();
			await b.run("const s = document.getElementById('band'); s.value = arguments[0];" +
				"s.dispatchEvent(new Event('input'))", all[0][1]);
			assert.deepEqual(await shown(), all.filter(r => r[1] === all[0][1]));
			await b.run("const s = document.getElementById('band'); s.value = '';" +
				"s.dispatchEvent(new Event('input'))");
			await b.clear("#least");
			await b.type("#least", "10");
			assert.deepEqual(await shown(), all.filter(r => Number(r[4]) >= 10));
		}],
		["report: sorts up and down, and says so", async () => {
			await fresh();
			const head = "#list thead th:nth-child(5)";
			for (const [said, sign] of [["ascending", 1], ["descending", -1]]) {
				await b.click(head + " button");
				const overs = (await shown()).map(r => Number(r[4]));
				assert.deepEqual(overs, [...overs].sort((x, y) => sign * (x - y)));
				assert.equal(await b.run("return document.querySelector(arguments[0]).getAttribute('aria-sort')", head),
					said);
			}
			await b.click("#list thead th:nth-child(1) button");
			assert.equal(await b.run("return document.querySelectorAll('[aria-sort]').length"), 1);
		}],
		["report: the keyboard alone gets everywhere, and is seen where it is", async () => {
			await fresh();
			await b.run("document.getElementById('search').focus()");
			const met = [];
			for (let i = 0; i < 8; i++) {
				await b.press(KEY.tab);
				met.push(await b.run("const a = document.activeElement;" +
					"return [a.tagName, a.textContent.slice(0, 20), getComputedStyle(a).outlineStyle]"));
			}
			assert.ok(met.every(m => m[2] !== "none"), JSON.stringify(met));
			const at = met.findIndex(m => m[0] === "BUTTON");
			assert.ok(at >= 0, JSON.stringify(met));
			await b.press(KEY.enter);
			assert.equal(await b.run("return document.querySelectorAll('[aria-sort]').length"), 1);
		}],
		["report: a link to a channel opens what is known of it", async () => {
			await fresh();
			await b.click("#list tbody tr:nth-child(3) th a");
			const is = await b.run("const d = document.querySelector(location.hash).closest('details');" +
				"return [d.open, d.textContent, document.querySelector('#list tbody tr:nth-child(3) th').textContent]");
			assert.ok(is[0]);
			assert.ok(is[1].startsWith(is[2]) && is[1].includes("heard: "));
		}],
		["report: names and roles for who does not see it", async () => {
			await fresh();
			const tree = await b.accessible();
			const has = (role, name) => tree.some(n => n.role?.value === role &&
				(name instanceof RegExp ? name.test(n.name?.value) : n.name?.value === name));
			for (const [role, name] of [["heading", /^What was heard at /], ["heading", "Channels"], ["navigation", "Contents"],
				["searchbox", "Search"], ["combobox", "Band"], ["spinbutton", "Overs at least"],
				["columnheader", /^overs/], ["rowheader", "154.235"], ["button", "overs"], ["table", ""],
				["image", /^Levels in /], ["cell", /^\d\d-\d\d h/], ["list", "Colour scale"], ["region", "Channels"]])
				assert.ok(has(role, name), `no ${role} "${name}"`);
			const levels = tree.filter(n => n.role?.value === "heading")
				.map(n => n.properties.find(p => p.name === "level").value.value);
			assert.equal(levels[0], 1);
			levels.forEach((l, i) => assert.ok(i === 0 || l - levels[i - 1] <= 1, "a heading is skipped"));
		}],
		["report: time goes across and frequency down; not looked at is no colour of quiet", async () => {
			await fresh();
			const [wide, high, ...cells] = await b.call("POST", "/execute/async", { args: [], script:
				"const done = arguments[arguments.length - 1]; const image = new Image();" +
				"image.onload = () => { const c = document.createElement('canvas'); c.width = image.width;" +
				"c.height = image.height; const g = c.getContext('2d'); g.drawImage(image, 0, 0);" +
				"done([image.width, image.height," +
				"...[[11, 'on'], [15, 'on'], [127, 'on']].map(([x]) => [...g.getImageData(x, " +
				"Math.floor(186 / Math.ceil(Number(document.querySelector('.field').dataset.row) / 2500)), 1, 1).data])]) };" +
				"image.src = document.querySelector('.field image').getAttribute('href')" });
			assert.equal(wide, 240);
			assert.ok(high > 10);
			const [heard, silent, missed] = cells;
			assert.equal(missed[3], 0);
			assert.deepEqual(silent, [246, 244, 235, 255]);
			assert.ok(heard[0] + heard[1] + heard[2] < 400 && heard[3] === 255, JSON.stringify(heard));
		}],
		["report: a line of several channels is quiet only where all were looked at", async () => {
			await fresh();
			const [first, later] = await b.call("POST", "/execute/async", { args: [], script:
				"const done = arguments[arguments.length - 1]; const image = new Image(); image.onload = () => {" +
				"const g = Object.assign(document.createElement('canvas'), { width: image.width, height: image.height })" +
				".getContext('2d'); g.drawImage(image, 0, 0);" +
				"done([30, 90].map(x => [...g.getImageData(x, 0, 1, 1).data])) };" +
				"image.src = document.querySelectorAll('.field image')[1].getAttribute('href')" });
			assert.equal(first[3], 0);
			assert.deepEqual(later, [246, 244, 235, 255]);
		}],
		["report: all is there without its script", async () => {
			await b.script(false);
			try {
				await b.open("about:blank");
				await b.open(url("report.html"));
				const dom = await b.cdp("DOM.getDocument", { depth: -1 });
				const count = async css => (await b.cdp("DOM.querySelectorAll",
					{ nodeId: dom.root.nodeId, selector: css })).nodeIds.length;
				assert.equal(await count("#list tbody tr"), channels().length);
				assert.equal(await count("#each details"), channels().length);
				assert.equal(await count("#tools[hidden]"), 1);
				assert.equal(await count("#list button"), 0);
				await b.click("#each summary");
				assert.equal(await count("#each details[open]"), 1);
			} finally {
				await b.script(true);
			}
		}],
		["report: each bank's rehearsal is that of plan.csv read back", async () => {
			await fresh();
			const rows = await b.run("return [...document.querySelectorAll('#rehearsal tbody tr')]" +
				".map(r => [...r.cells].map(c => c.textContent))");
			const memories = fs.readFileSync(path.join(folder, "out", "plan.csv"), "utf8").trim().split("\r\n").length - 1;
			assert.equal(rows.filter(r => /^\d+-\d+$/.test(r[0])).length, memories);
			const banks = rows.filter(r => /^Bank \d+ alone$/.test(r[0]));
			assert.ok(banks.length > 1);
			for (const [name, , heard] of banks) {
				const { sets } = JSON.parse(bandcensus("rehearse", "night.survey", "--receiver", receiver, "--plan",
					"out/plan.csv", "--banks", name.match(/\d+/)[0], "--json"));
				const want = 100 * sets[0].rehearsed.overs_heard;		// of three digits
				assert.ok(/^\d+ %$/.test(heard) && Math.abs(parseInt(heard) - want) <= 0.56, `${name}: ${heard}, ${want}`);
			}
		}],
		["report: a night in which nothing was heard is a page, too", async () => {
			bandcensus("report", "night.survey", "--squelch", "60", "--output", "silent");
			await fresh();
			await b.open("file://" + path.join(folder, "silent", "report.html"));
			assert.equal((await shown()).length, 0);
			assert.equal(await b.run("return document.getElementById('shown').textContent"), "0 of 0 shown");
			assert.equal(await b.run("return document.querySelectorAll('.field').length"), 4);
			assert.deepEqual(await b.complaints(), []);
		}],
		["report: light and dark can be read, and differ", async () => {
			await fresh();
			const grounds = [];
			for (const scheme of ["light", "dark"]) {
				await b.scheme(scheme);
				const [ground, ...inks] = await b.run("const of = (css, what) =>" +
					"getComputedStyle(document.querySelector(css))[what]; return [of('body', 'backgroundColor')," +
					"of('p', 'color'), of('dt', 'color'), of('a', 'color'), of('small', 'color'), of('figcaption', 'color')]");
				grounds.push(ground);
				for (const ink of inks)
					assert.ok(contrast(ink, ground) >= 4.5, `${ink} on ${ground}: WCAG 2.1, 1.4.3 wants 4.5`);
			}
			assert.notEqual(grounds[0], grounds[1]);
		}],
		["report: fits a phone", async () => {
			await fresh();
			await b.size(390, 844, true);
			const [wide, room] = await b.run("return [document.documentElement.scrollWidth, innerWidth]");
			assert.ok(wide <= 390 && room === 390, `${wide} of ${room} pixels`);
		}],
		["report: prints, words and all", async () => {
			await fresh();
			const pages = printed(await b.pdf(A4));
			const text = pages.join("\n");
			assert.ok(pages.length > 2 && pages.length < 60, `${pages.length} pages`);
			for (const words of ["154.235", "not looked at", "Cautions", "check local law", "Bank 1"])
				assert.ok(text.includes(words), words);
			assert.match(text, /^ *154\.235 +fire.* 00-04 /m);	// hours in words, where the screen has a strip
			assert.equal(pages.filter(p => /MHz +band +who +kind +overs/.test(p)).length,
				pages.filter(p => /^ *\d+\.\d+ +(fire|air|business|paging) .* \d\d-\d\d/m.test(p)).length, "heads on each page");
			assert.ok(!text.includes("Overs at least"), "tools are printed");
		}],
		["sheet: asks nothing of a network, and has no script at all", async () => {
			await fresh("plan.html");
			await quiet();
			await unhurt(0);
		}],
		["sheet: says what plan.csv says", async () => {
			await fresh("plan.html");
			const lines = fs.readFileSync(path.join(folder, "out", "plan.csv"), "utf8").trim().split("\r\n");
			const head = lines[0].split(",");
			const [bank, slot, type] = ["bank", "slot", "type_mhz"].map(n => head.indexOf(n));
			assert.ok(bank >= 0 && slot >= 0 && type >= 0, lines[0]);
			assert.ok(lines.length > 5);
			for (const line of lines.slice(1)) {
				const f = line.split(",");		// no commas stand before these
				const said = await b.run("const m = document.getElementById(arguments[0]);" +
					"return m && m.querySelector('.type').textContent", `m${f[bank]}-${f[slot]}`);
				assert.equal(Number(said), Number(f[type]), line);
			}
			assert.equal(await b.run("return document.querySelectorAll('.memories tbody').length"), lines.length - 1);
		}],
		...[["A4", A4], ["letter", LETTER]].map(([name, paper]) =>
			[`sheet: on ${name} each bank begins a page`, async () => {
				await fresh("plan.html");
				const banks = await b.run("return [...document.querySelectorAll('.bank h2')].map(h => h.textContent)");
				const pages = printed(await b.pdf(paper));
				assert.ok(banks.length > 1);
				for (const bank of banks)
					assert.equal(pages.filter(p => p.trimStart().startsWith(bank)).length, 1, bank);
				assert.ok(pages.join().includes("heard?"));
			}]),
		["sheet: says what changes.csv says of a set in use", async () => {
			const lines = fs.readFileSync(path.join(folder, "out", "plan.csv"), "utf8").split("\r\n");
			fs.writeFileSync(path.join(folder, "set.csv"), lines.slice(0, -3).join("\r\n") + "\r\n");
			bandcensus("plan", "night.survey", "--receiver", receiver, "--memories", "set.csv", "--output", "again");
			const [head, ...rows] = fs.readFileSync(path.join(folder, "again", "changes.csv"), "utf8").trim()
				.split("\r\n").map(line => line.split(","));	// no commas stand before these
			const [bank, slot, step] = ["bank", "slot", "change"].map(n => head.indexOf(n));
			assert.ok(bank >= 0 && slot >= 0 && step >= 0, head.join());
			await b.open("file://" + path.join(folder, "again", "plan.html"));
			const shown = await b.run("return [...document.querySelectorAll('#changes tbody tr')]" +
				".map(r => [r.cells[1].textContent, r.cells[2].textContent])");
			assert.deepEqual(shown, rows.filter(r => r[step] !== "keep").map(r => [`${r[bank]}-${r[slot]}`, r[step]]));
			assert.ok(shown.length > 0);
		}],
		["sheet: is black, white and grey on paper", async () => {
			await fresh("plan.html");
			await b.cdp("Emulation.setEmulatedMedia", { media: "print", features: [] });
			const colours = await b.run("return [...new Set([...document.querySelectorAll('body *')].flatMap(e => {" +
				"const s = getComputedStyle(e); return [s.color, s.backgroundColor, s.borderBottomColor] }))]");
			await b.cdp("Emulation.setEmulatedMedia", { media: "", features: [] });
			for (const colour of colours) {
				const [r, g, bl, a] = colour.match(/[\d.]+/g).map(Number);
				assert.ok(a === 0 || (r === g && g === bl), colour);
			}
		}],
		["sheet: fits a phone", async () => {
			await fresh("plan.html");
			await b.size(390, 844, true);
			assert.ok(await b.run("return document.documentElement.scrollWidth") <= 390);
		}],
	];
	try {
		return await tap(cases);
	} finally {
		await b.close();
	}
}

main().catch(error => {
	console.log("not ok 1 - the browser");
	console.log(String(error.stack).replace(/^/gm, "# "));
	return 1;
}).then(failed => {
	fs.rmSync(folder, { recursive: true, force: true });
	process.exitCode = failed ? 1 : 0;
});
