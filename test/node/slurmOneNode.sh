#!/bin/bash
# A Slurm of one node in a folder, without munge, accounting or root: slurmOneNode.sh DIR writes slurm.conf and starts both
# daemons; their process ids are in DIR/pids. For tests only: auth/none believes everyone.
set -eu
D=$1
H=$(hostname -s)
mkdir -p "$D/state" "$D/spool" "$D/log"
cat > "$D/slurm.conf" <<CONF
ClusterName=one
SlurmctldHost=$H(127.0.0.1)
SlurmUser=$(id -un)
SlurmdUser=$(id -un)
AuthType=auth/none
CredType=cred/none
StateSaveLocation=$D/state
SlurmdSpoolDir=$D/spool
SlurmctldPidFile=$D/slurmctld.pid
SlurmdPidFile=$D/slurmd.pid
SlurmctldPort=26817
SlurmdPort=26818
ProctrackType=proctrack/linuxproc
TaskPlugin=task/none
SwitchType=switch/none
MpiDefault=none
SelectType=select/cons_tres
SelectTypeParameters=CR_CPU
AccountingStorageType=accounting_storage/none
JobAcctGatherType=jobacct_gather/none
ReturnToService=2
SchedulerParameters=sched_interval=2,batch_sched_delay=0
NodeName=$H NodeAddr=127.0.0.1 CPUs=2 RealMemory=1000 State=UNKNOWN
PartitionName=all Nodes=$H Default=YES MaxTime=INFINITE State=UP
CONF
export SLURM_CONF=$D/slurm.conf
slurmctld -D -i > "$D/log/slurmctld" 2>&1 &
echo $! > "$D/pids"
sleep 2
slurmd -D > "$D/log/slurmd" 2>&1 &
echo $! >> "$D/pids"
