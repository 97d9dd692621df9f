// SPDX-License-Identifier: GPL-3.0-or-later
// node paper_browsers.js FILE.html...: lays each file out in Chromium and in Firefox, on A4 and on Letter, beside it
// (FILE-chromium-A4.pdf ...), and runs the accessibility checker over it: a line a violation, exit 1.
'use strict';
const fs = require('fs');
const path = require('path');
const puppeteer = require('puppeteer-core');
const axe = fs.readFileSync(require.resolve('axe-core/axe.min.js'), 'utf8');

const browsers = [
    {name: 'chromium', options: {executablePath: process.env.CHROMIUM, args: ['--no-sandbox', '--disable-gpu']}},
    {name: 'firefox', options: {browser: 'firefox', executablePath: process.env.FIREFOX}},
];

async function violations(page) {
    await page.evaluate(axe);
    const found = await page.evaluate(async () => (await axe.run(document)).violations.map(
        (violation) => `${violation.id}: ${violation.nodes.length}, first ${violation.nodes[0].html}`));
    return found;
}

// Hundreds of pages take a browser many minutes.
const LONGEST_MS = 3600000;

async function layOut(file, {name, options}) {
    const browser = await puppeteer.launch({headless: true, protocolTimeout: LONGEST_MS, ...options});
    const page = await browser.newPage();
    await page.goto('file://' + path.resolve(file), {timeout: LONGEST_MS});
    for (const format of ['A4', 'Letter'])
        await page.pdf({format, timeout: LONGEST_MS, path: file.replace(/\.html$/, `-${name}-${format}.pdf`)});
    const found = name === 'chromium' ? await violations(page) : [];
    for (const violation of found)
        console.log(`${file}: ${violation}`);
    await browser.close();
    return found.length;
}

async function main(files) {
    let bad = 0;
    for (const file of files)
        for (const browser of browsers)
            bad += await layOut(file, browser);
    return bad;
}

main(process.argv.slice(2)).then((bad) => process.exit(bad > 0 ? 1 : 0), (error) => {
    console.log(String(error));
    process.exit(2);
});
