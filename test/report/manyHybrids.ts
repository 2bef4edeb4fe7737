/** An invented trial of many hybrids on one site: five rates, three blocks, response shapes that differ; names hold the usual and the hostile. */
export function manyHybrids(count: number, name: (i: number) => string = (i) => `Hybrid ${i + 1}`): string {
  let state = 7;
  const random = (): number => {
    state = (state + 0x6d2b79f5) | 0;
    let t = Math.imul(state ^ (state >>> 15), 1 | state);
    t = (t + Math.imul(t ^ (t >>> 7), 61 | t)) ^ t;
    return ((t ^ (t >>> 14)) >>> 0) / 4294967296;
  };
  const cell = (text: string): string => `"${text.replaceAll('"', '""')}"`;
  const lines = ["site,year,block,plot,hybrid,seeding_rate_k_ac,stand_k_ac,yield_bu_ac,stalk_lodged,plants_examined"];
  for (let block = 1; block <= 3; block++) {
    for (let i = 0; i < count; i++) {
      for (const rate of [20, 26, 32, 38, 44]) {
        const stand = rate * 0.95;
        const best = 25 + ((i * 7) % 17);
        const below = Math.max(best - stand, 0);
        const grain =
          190 +
          ((i * 13) % 40) -
          (i % 3 === 0 ? 0.07 * (stand - best) ** 2 : i % 3 === 1 ? 0.12 * below ** 2 : 1.8 * below) +
          3 * block;
        const noise = 6 * (random() + random() + random() - 1.5);
        const lodged = Math.round(60 / (1 + Math.exp(-(-7 + (i % 5) * 0.3 + 0.13 * stand + random() - 0.5))));
        lines.push(
          [
            "Oakhill",
            2033,
            block,
            block * 1000 + lines.length,
            cell(name(i)),
            rate,
            stand.toFixed(1),
            (grain + noise).toFixed(1),
            lodged,
            60,
          ].join(","),
        );
      }
    }
  }
  return `${lines.join("\n")}\n`;
}
