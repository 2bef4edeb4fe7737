#!/bin/sh
# Shards of one file on one machine, or on several over ssh (parallel --sshlogin), by GNU parallel:
#   parallel.sh network.csv OUT SHARDS [options of standcurve batch]
# A shard whose process dies is started again and goes on where it was.
set -eu
file=$1 out=$2 shards=$3
shift 3
mkdir -p "$out"
seq 0 $((shards - 1)) | parallel --jobs "${JOBS:-100%}" --retries 3 \
  "${STANDCURVE:-standcurve} batch '$file' --shard {}/$shards --workers 0 --resume --quiet --out '$out'/{}.jsonl $*"
${STANDCURVE:-standcurve} batch --merge "$out"/[0-9]*.jsonl --out "$out/all.jsonl"
