export const batchHelp = `Usage: standcurve batch FILE --out results.jsonl [options]
       standcurve batch --merge FILE... --out all.jsonl
       standcurve batch --tables FILE... --out DIR

Analyses many hybrids, one after another: each is read and analysed as a file of its own would be, over all its environments
and in each, and becomes one line of JSON (standcurve/group-result/1). Memory does not grow with the number of hybrids.
FILE is CSV, JSON lines (plots or groups) or Parquet (needs the package hyparquet); - reads the standard input.

Work
  --workers N            worker threads; default: one for each processor, none for fewer than 32 groups; 0: none
  --shard I/N            only share I of N (0/4, 1/4, 2/4, 3/4), told by the hybrid's name: the same on every machine
  --resume               go on with an output that is there: what is complete stays, a torn last line is repaired
  --grouped              the rows of each hybrid stand together: read once and hold one hybrid (an error when one comes back)
  --by WHAT              hybrid (default), or hybrid-environment: a line for each hybrid in each environment
  --format FORMAT        csv, jsonl or parquet; default: by the file's ending, else csv
  --out FILE             the results; default: the standard output
  --progress             report rate and time left even when the error stream is not a terminal
  --quiet                nothing on the error stream but failures

Afterwards
  --merge                put shards together, sorted by name; a result that is missing its end, or is there twice, is an error
  --tables               the tables of analyze --out, and groups and issues, as CSV, all or none

Options about the file, prices and the analysis are those of analyze. Flex scores of different hybrids compare only
with --between, and checks between hybrids are those of standcurve check.
Exit codes: 0 all well; 1 done, but rows have errors or a hybrid has no result; 2 the command is wrong; 3 not finished:
interrupted, or a file cannot be read or written (go on with --resume).

Example: standcurve batch network.csv --out results.jsonl --grain-price 4.50 --seed-cost 3.75 --between 24,36
`;
