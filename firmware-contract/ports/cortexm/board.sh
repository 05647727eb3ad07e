#!/bin/sh
# An emulated LM3S6965 as a board whose line is standard input and output:
#     drystage bench --inert --board "exec:ports/cortexm/board.sh FIRMWARE.elf"
# The emulator turns output processing on if the line is a terminal. Without any processing to be done that
# changes no byte.
stty -drain -onlcr -ocrnl -onlret -onocr -olcuc tab0 -ofill
exec qemu-system-arm -M lm3s6965evb -nographic -display none -monitor none -chardev stdio,id=line,signal=off -serial chardev:line -kernel "$1"
