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

async function main(files) {
    let bad = 0;
    for (const {name, options} of browsers) {
        const browser = await puppeteer.launch({headless: true, protocolTimeout: 600000, ...options});
        for (const file of files) {
            const page = await browser.newPage();
            await page.goto('file://' + path.resolve(file));
            for (const format of ['A4', 'Letter'])
                await page.pdf({format, timeout: 600000, path: file.replace(/\.html$/, `-${name}-${format}.pdf`)});
            for (const violation of name === 'chromium' ? await violations(page) : []) {
                console.log(`${file}: ${violation}`);
                bad++;
            }
        }
        await browser.close();
    }
    return bad;
}

main(process.argv.slice(2)).then((bad) => process.exit(bad > 0 ? 1 : 0), (error) => {
    console.log(String(error));
    process.exit(2);
});
