# make check   everything that must hold before a change lands
# make busy    the same beside busy loops that take half of the machine
# make bench   the suite on the built-in mock board
# make boards  the reference firmware on a process, an emulated AVR and an emulated Cortex-M: the contract
#              and the whole suite on each (an hour and a half on two cores)
# make speed   benchmarks
# make profile the profile that the compiler optimises by, cmd/drystage/default.pgo, anew
# make release archives for every platform, Debian packages, lists of contents and checksums, in dist/
# make release-check   a release of the last commit twice, from two folders, once with an empty cache: the same bytes; and the
#              Debian package installed in a clean root and flown (a quarter of an hour)
# make corrupted   a million runs with errors on the line, a few minutes
# make mutations   a hundred thousand records changed in one place, a few minutes
# make hazards   the page of hazards: which scenarios try which, and which wrong boards prove it (some minutes)
# make mutants   every mutant of the built-in board and of the reference firmware flies the suite (an hour on one core)
# make binary-mutants   branches of an emulated firmware, turned around one by one, fly scenarios until one fails (half an hour)
# make many    what many flights cost: processors, memory, a queue against none, a saturated queue (ten minutes)
# make logs    500 flight logs of the second source and of our own: columns, phases and anomalies, with the rates
GO ?= go

.PHONY: hazards many check busy tools format vet lint test suite wall bits bench boards corrupted mutants binary-mutants mutations speed profile logs release release-check

STAGES = tools format vet lint test suite wall bits

# Tests are compiled without the profile: it changes speed only, and everything would be compiled twice.
# Memory is plentiful here: the collector runs a quarter as often.
vet lint test suite wall bits: export GOFLAGS += -pgo=off
vet lint test suite wall bits: export GOGC ?= 400

# What vet finds was found by the stage before.
TEST = DRYSTAGE_TOOLS=all $(GO) test -vet=off

check:
	@began=$$(date +%s); for stage in $(STAGES); do \
		since=$$(date +%s); $(MAKE) --no-print-directory $$stage || exit 1; \
		took="$$took $$stage $$(($$(date +%s) - since)) s,"; \
	done; echo "make check: all holds;$$took $$(($$(date +%s) - began)) s in all"

# The same beside as many busy loops as there are processors: no test may need a calm machine. Linux's automatic
# groups of sessions are off meanwhile: with them, a session that sleeps most of the time, as each board is one, was seen
# to wait up to 18 s for its turn beside twenty others (6.18; 0.25 s without), and no limit of a test could allow for that.
GROUPS = /proc/sys/kernel/sched_autogroup_enabled

busy:
	@was=$$(cat $(GROUPS) 2>/dev/null); [ -z "$$was" ] || echo 0 > $(GROUPS); \
	for i in $$(seq $$(nproc)); do sh -c 'while :; do :; done' & pids="$$pids $$!"; done; \
	trap "kill $$pids; [ -z '$$was' ] || echo '$$was' > $(GROUPS)" EXIT; $(MAKE) --no-print-directory check

# What a fresh Debian machine lacks: C compilers for the race detector and for the firmware's side of
# the contract, on this machine, an AVR and a Cortex-M, and emulators of both; a decoder of NMEA 0183, a reader of tracefiles,
# a solver of differential equations, a checker of manual pages, shells, a server of queues and a browser that aren't ours.
tools:
	@for p in gcc g++ clang avr-gcc simavr arm-none-eabi-gcc qemu-system-arm qemu-aarch64-static gpsdecode genhtml mandoc zsh fish nats-server chromium cmake arduino-builder; do command -v $$p >/dev/null || missing=1; done; \
	for f in simavr/sim_avr.h libelf.h; do [ -e /usr/include/$$f ] || missing=1; done; \
	/usr/bin/python3 -c 'import scipy' 2>/dev/null || missing=1; \
	if [ -n "$$missing" ]; then apt-get update -q && \
		apt-get install -y -q gcc g++ libc6-dev clang gcc-avr binutils-avr avr-libc simavr libsimavr-dev libelf-dev gpsd-clients lcov mandoc zsh fish nats-server chromium && \
		apt-get install -y -q --no-install-recommends gcc-arm-none-eabi qemu-system-arm qemu-user-static python3-scipy cmake arduino-builder arduino-core-avr; fi
	$(GO) mod download
	$(GO) -C cmd/release mod download

format:
	@found="$$(gofmt -l .)"; if [ -n "$$found" ]; then echo "gofmt wants: $$found"; exit 1; fi

vet:
	$(GO) vet ./...

lint:
	$(GO) tool staticcheck ./...

# The rooms where goroutines can exist, in the code or in its tests, are tested under the race detector. cmd/drystage/raced_test.go
# holds this list against the code.
RACED = ./cmd/drystage ./harness/board ./harness/board/link ./harness/board/mock ./harness/board/receiver ./harness/files/record ./harness/rig ./harness/run/... ./harness/show/live

test:
	$(TEST) -p 4 -timeout 30m -race -short -skip $(WALL) $(RACED)
	DRYSTAGE_TOOLS=all $(GO) -C cmd/release test -timeout 30m ./...

# All other rooms; and what is too slow under the race detector, and cut short or left out there: every page of a session,
# every defect, every kind of fault, hunts, a child process as the board, errors on the line at every byte; and the
# firmware's side in C on this machine, on an AVR and on a Cortex-M. Four rooms at once: many tests wait most of the time.
SUITE = ./cmd/drystage ./firmware-contract ./sim/flight ./harness/run/loop ./harness/board ./harness/board/mock

# What takes long begins first (sim/flight waits for an independent solver). The sessions are half of the longest room: they run
# beside the rest, so that no processor waits at the end.
SESSION = '^TestSession$$'

suite:
	@$(TEST) -timeout 30m -run $(SESSION) ./cmd/drystage & sessions=$$!; \
	$(TEST) -p 3 -timeout 30m -skip $(WALL)'|'$(SESSION) $(SUITE) \
		$$($(GO) list ./... | grep -vxF -e drystage/firmware-contract $$($(GO) list -f '-e {{.ImportPath}}' $(RACED))); \
	rest=$$?; wait $$sessions && exit $$rest

# Tests that go by the clock on the wall have names that begin with TestWall. They run alone, one after the other and
# without the race detector, so that no other test of ours takes their time; each of their limits says why.
# cmd/drystage/raced_test.go holds this list against the code, too.
WALL = '^TestWall'
WALLED = ./cmd/drystage ./harness/board ./harness/run/... ./firmware-contract

wall:
	$(TEST) -timeout 30m -p 1 -parallel 1 -count 1 -run $(WALL) $(WALLED)

# The same bits on another processor: tests that pin checksums, built for arm64 and run by an emulator. That the program
# compiles for every platform is held by a test of cmd/release.
bits:
	GOARCH=arm64 CGO_ENABLED=0 $(GO) test -count=1 -exec qemu-aarch64-static -run 'Bits' ./sim/plain ./sim/noise ./sim/flight ./sim/sensor ./harness/board/mock

boards: tools
	DRYSTAGE_BOARDS=all $(GO) test -count=1 -run '^TestMessagesEqualBytes$$' ./cmd/drystage
	@table=$$(mktemp); DRYSTAGE_TOOLS=all DRYSTAGE_BOARDS=all DRYSTAGE_TABLE=$$table \
		$(GO) test -count=1 -timeout 4h -v -run '^(TestBoards|TestWrongFirmwares|TestDriverBugs|TestBusFaults|TestDangerousFirmwares|TestReferenceDecidesAsTheMock|TestReferenceDecidesAsTheMockOnFaultyFlights)$$' ./firmware-contract; status=$$?; \
	cat $$table; rm -f $$table; exit $$status

bench:
	$(GO) run ./cmd/drystage bench

mutations:
	DRYSTAGE_MUTATIONS=100000 $(GO) test -run TestNoMutationPasses -timeout 3h -v ./harness/judge/audit

mutants:
	$(GO) run ./cmd/mutants --of go
	$(GO) run ./cmd/mutants --of c

# Branches of the unaware firmware's flight logic, turned around in its flash. A flight takes 2 to 12 s of processor time.
binary-mutants: tools
	$(MAKE) -C firmware-contract unaware
	$(GO) run ./cmd/drystage mutants firmware-contract/unaware/scenarios --functions 'flight\.c:.*' --sample 60 --timeout 1m \
		--board 'sustainer=avr:firmware-contract/build/unaware-avr.elf?wiring=firmware-contract/unaware/wiring-lamp.yaml' --answer-limit 1m

hazards:
	@shown=$$(mktemp); DRYSTAGE_HAZARDS=$$shown $(GO) test -count=1 -run '^TestDangerousFirmwares$$' ./firmware-contract && \
		$(GO) run ./cmd/mutants --sample 60 --within 2m --hazards HAZARDS.md --proofs $$shown >/dev/null; status=$$?; rm -f $$shown; exit $$status

corrupted:
	DRYSTAGE_CORRUPTED=1000000 $(GO) test -run TestCorrupted -timeout 3h -v ./cmd/drystage

speed:
	$(GO) test -run '^$$' -bench . -benchmem ./...

profile:
	$(GO) test -trimpath -run '^$$' -bench 'ClosedLoop|Sweep' -benchtime 8s -cpuprofile cmd/drystage/default.pgo -o /dev/null ./cmd/drystage

# Here all that is asked of logs of the second source is held; the usual tests hold what is reached, on a few.
logs:
	DRYSTAGE_LOGS=500 $(GO) test -timeout 120m -v -run 'TestMappingOfManyShapes|TestShapedLogsAreRead|TestForeign|TestSwarm$$' ./harness/logs ./harness/logs/examine

release:
	$(GO) -C cmd/release run . --out dist

# Both are built from clones, so that nobody's editing gets into one of them.
release-check:
	$(GO) -C cmd/release vet ./...
	cd cmd/release && $$(cd ../.. && $(GO) tool -n staticcheck) ./...
	@set -e; dir=$$(mktemp -d); trap 'chmod -R u+w '$$dir'; rm -rf '$$dir EXIT; \
	for copy in here elsewhere; do git clone -q . $$dir/$$copy; done; \
	(cd $$dir/here && $(GO) -C cmd/release run . --out $$dir/first); \
	(cd $$dir/elsewhere && GOCACHE=$$dir/cache $(GO) -C cmd/release run . --out $$dir/second); \
	diff -r $$dir/first $$dir/second; echo "the same bytes"; \
	root=$$dir/root; mkdir -p $$root/var/lib/dpkg/info $$root/var/lib/dpkg/updates; touch $$root/var/lib/dpkg/status; \
	dpkg --root=$$root --force-script-chrootless --log=/dev/null -i $$dir/first/drystage_*_$$(dpkg --print-architecture).deb; \
	dpkg --root=$$root -s drystage | grep '^Status: install ok installed'; \
	cd $$dir && env -i $$root/usr/bin/drystage bench -q && env -i $$root/usr/bin/drystage version

# Processor time, not only time by the clock, so that other work on the machine matters less. Two processors against one: the
# same flights, in wall time, on a quiet machine. Status 1 of a sweep says that flights failed.
FEW = 1000
FLIGHTS = 10000
TIMED = /usr/bin/time -f '  %e s by the clock, %U s user, %S s system, at most %M kB'

many:
	@dir=$$(mktemp -d); trap 'kill $$(cat '$$dir'/*.pid) 2>/dev/null; rm -rf '$$dir EXIT; \
	$(GO) build -o $$dir/drystage ./cmd/drystage || exit 1; \
	fly() { echo "$$1"; shift; $(TIMED) "$$@" >$$dir/out 2>$$dir/err; tail -n 1 $$dir/err; }; \
	sweep="$$dir/drystage sweep scenarios/launch-day.yaml --quiet --flights"; \
	fly "$(FEW) flights, 2 processors" taskset -c 0,1 $$sweep $(FEW) --jobs 2; \
	fly "$(FEW) flights, 1 processor" env GOMAXPROCS=1 taskset -c 0 $$sweep $(FEW) --jobs 1; \
	fly "$(FLIGHTS) flights, 2 processors" taskset -c 0,1 $$sweep $(FLIGHTS) --jobs 2; \
	port=4$$((200 + $$$$ % 700)); \
	$(TIMED) nats-server -js -sd $$dir/store -a 127.0.0.1 -p $$port -P $$dir/server.pid 2>$$dir/server >/dev/null & server=$$!; sleep 2; \
	$(TIMED) sh -c 'echo $$$$ >'$$dir'/worker.pid; exec '$$dir'/drystage worker --queue nats://127.0.0.1:'$$port' --jobs 2' 2>$$dir/worker >/dev/null & worker=$$!; \
	fly "$(FEW) flights by a queue: the sender" $$sweep $(FEW) --queue nats://127.0.0.1:$$port; \
	kill -INT $$(cat $$dir/worker.pid); wait $$worker; echo "the worker"; tail -n 1 $$dir/worker; \
	kill -INT $$(cat $$dir/server.pid); wait $$server; echo "the server"; tail -n 1 $$dir/server
	$(GO) test ./harness/run/campaign -run '^$$' -bench Saturation -benchtime 2000x
