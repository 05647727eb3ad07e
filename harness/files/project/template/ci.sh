#!/bin/sh
# What a machine of continuous integration runs: it fails when a file is wrong or a scenario does not pass, and leaves a
# page, a JUnit file and the records. Put your firmware's address in BOARD; without it the built-in board flies.
set -eu
cd "$(dirname "$0")"
drystage lint .
drystage bench . --board "${BOARD:-mock}" --format junit --html page.html --out records >junit.xml
