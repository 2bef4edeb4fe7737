export function coverageText(r) { return JSON.stringify(r, null, 1); }
