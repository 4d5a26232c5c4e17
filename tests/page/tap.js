"use strict";
// Cases one after the other, told as TAP (testanything.org): a failure tells why and the others go on.
const assert = require("node:assert/strict");

async function tap(cases) {
	let failed = 0, n = 0;
	console.log(`1..${cases.length}`);
	for (const [name, run] of cases) {
		n++;
		try {
			await run();
			console.log(`ok ${n} - ${name}`);
		} catch (error) {
			failed++;
			console.log(`not ok ${n} - ${name}`);
			console.log(String(error.stack).replace(/^/gm, "# "));
		}
	}
	return failed;
}

module.exports = { tap, assert };
