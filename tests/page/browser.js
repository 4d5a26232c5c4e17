"use strict";
// Chromium driven through ChromeDriver by plain fetch: the W3C's WebDriver, and the browser's own
// commands (goog/cdp) where that has no word. No package is needed.
const { spawn } = require("node:child_process");

const ELEMENT = "element-6066-11e4-a52e-4f735466cecf";	// WebDriver, 12.1

class Browser {
	static async open() {
		const driver = spawn("chromedriver", ["--port=0"], { stdio: ["ignore", "pipe", "ignore"] });
		const port = await new Promise((resolve, reject) => {
			driver.stdout.on("data", text => {
				const said = /on port ([1-9]\d*)/.exec(text);
				if (said)
					resolve(said[1]);
			});
			driver.on("error", reject);
			driver.on("exit", () => reject(new Error("chromedriver ended")));
		});
		const browser = new Browser();
		browser.driver = driver;
		browser.base = `http://127.0.0.1:${port}/session`;
		try {
			await browser.start();
		} catch (error) {
			driver.kill();
			throw error;
		}
		return browser;
	}

	async start() {
		const answer = await this.call("POST", "", { capabilities: { alwaysMatch: {
			browserName: "chrome",
			"goog:loggingPrefs": { browser: "ALL", performance: "ALL" },
			"goog:chromeOptions": {
				binary: process.env.CHROMIUM || "/usr/bin/chromium",
				// Root in a container has no sandbox; the pages are our own.
				args: ["--headless=new", "--no-sandbox", "--disable-dev-shm-usage",
					"--disable-gpu", "--disable-background-networking", "--no-first-run"],
			},
		} } });
		this.base += "/" + answer.sessionId;
	}

	async call(method, path, body) {
		const answer = await fetch(this.base + path, {
			method, body: method === "POST" ? JSON.stringify(body || {}) : undefined,
		});
		const { value } = await answer.json();
		if (!answer.ok)
			throw new Error(`${path}: ${value.error}: ${value.message}`);
		return value;
	}

	async close() {
		await this.call("DELETE", "").catch(() => {});
		this.driver.kill();
	}

	cdp(cmd, params = {}) { return this.call("POST", "/goog/cdp/execute", { cmd, params }); }
	open(url) { return this.call("POST", "/url", { url }); }
	run(script, ...args) { return this.call("POST", "/execute/sync", { script, args }); }
	log(type) { return this.call("POST", "/se/log", { type }); }

	async find(css) {
		return (await this.call("POST", "/element", { using: "css selector", value: css }))[ELEMENT];
	}
	async click(css) { return this.call("POST", `/element/${await this.find(css)}/click`); }
	async type(css, text) { return this.call("POST", `/element/${await this.find(css)}/value`, { text }); }
	async clear(css) { return this.call("POST", `/element/${await this.find(css)}/clear`); }

	// A key by its WebDriver code point, wherever the focus is.
	async press(key) {
		await this.call("POST", "/actions", { actions: [{ type: "key", id: "keys", actions: [
			{ type: "keyDown", value: key }, { type: "keyUp", value: key }] }] });
	}

	size(width, height, mobile = false) {
		return this.cdp("Emulation.setDeviceMetricsOverride",
			{ width, height, deviceScaleFactor: 1, mobile });
	}
	scheme(value) {
		return this.cdp("Emulation.setEmulatedMedia", { features: [{ name: "prefers-color-scheme", value }] });
	}
	script(on) { return this.cdp("Emulation.setScriptExecutionDisabled", { value: !on }); }

	async picture(full = false) {
		const shot = await this.cdp("Page.captureScreenshot", { captureBeyondViewport: full });
		return Buffer.from(shot.data, "base64");
	}
	async pdf(options) {
		const { data } = await this.cdp("Page.printToPDF", options);
		return Buffer.from(data, "base64");
	}
	async accessible() { return (await this.cdp("Accessibility.getFullAXTree")).nodes.filter(n => !n.ignored); }

	// What was asked of any network, and the complaints on the console, since last asked.
	async requests() {
		return (await this.log("performance")).map(e => JSON.parse(e.message).message)
			.filter(m => m.method === "Network.requestWillBeSent").map(m => m.params.request.url);
	}
	async complaints() { return (await this.log("browser")).map(e => e.message); }
}

Browser.KEY = { tab: "\uE004", enter: "\uE007", space: " ", down: "\uE015", escape: "\uE00C" };

module.exports = { Browser };
