#!/bin/sh
#SBATCH --job-name=standcurve
#SBATCH --array=0-7
#SBATCH --cpus-per-task=1
#SBATCH --mem=400M
#SBATCH --requeue
#SBATCH --open-mode=append
# One shard a task of a Slurm job array:  sbatch slurm.sh network.csv OUT [options of standcurve batch]
# then                                    standcurve batch --merge OUT/*.jsonl --out all.jsonl
# A task whose program was killed, or did not finish (3), is put back into the queue, at most three times, and goes on where it was; so does a task
# of a node that failed.
file=$1 out=$2
shift 2
mkdir -p "$out"
${STANDCURVE:-standcurve} batch "$file" --shard "$SLURM_ARRAY_TASK_ID/$SLURM_ARRAY_TASK_COUNT" \
  --workers "$((${SLURM_CPUS_PER_TASK:-1} - 1))" --resume --quiet --out "$out/$SLURM_ARRAY_TASK_ID.jsonl" "$@"
code=$?
if [ "$code" -ge 3 ] && [ "${SLURM_RESTART_COUNT:-0}" -lt 3 ]; then
  scontrol requeue "${SLURM_ARRAY_JOB_ID}_$SLURM_ARRAY_TASK_ID"
  sleep 60 # ended by the requeue
fi
exit "$code"
