package main

import (
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// mistakes lists what once passed, or was left out, overwritten or opened, by mistake, and where each is tried today:
// a test as ROOM.NAME, a page of testdata/session as session/NAME, or a wrong file of harness/files/scenario/testdata as
// wrong/NAME.
var mistakes = []struct{ was, tried string }{
	// Verdicts.
	{"a scenario of a folder was not flown, since its first line was written otherwise", "cmd/drystage.TestEveryScenarioOfAFolderIsFlown harness/files/scenario.TestKind"},
	{"a file that can't be read was left out of a folder's suite", "cmd/drystage.TestWhatCantBeReadEndsTheRun"},
	{"an output stayed dark in a time that lies after the run", "harness/judge/verdict.TestNever harness/judge/verdict.TestAWiderWindowOfNeverNeverTurnsIntoPass"},
	{"an output that should have fired had a window that lies after the run", "harness/judge/verdict.TestFires"},
	{"an output stayed dark while a quantity was out of bounds, and it never was", "harness/judge/verdict.TestNeverWhileAQuantityIsOutOfBounds harness/judge/verdict.TestWhatPassesWasTried"},
	{"a truth that is no number is beyond no limit", "harness/judge/verdict.TestANumberThatIsNoneNeverPasses harness/files/record.TestWriteRefusesWhatCouldNotBeRead harness/files/record.TestSealedButWrong sim.TestFiniteLooksAtEveryNumber"},
	{"a record that was cut had its flag of completeness set", "harness/judge/audit.TestAudit harness/judge/audit.TestNoMutationPasses"},
	{"a record whose expectations were removed counted as proof", "harness/judge/audit.TestAudit harness/judge/audit.TestAuditAgainstTheSuite"},
	{"records of another version, all alike, left no point open", "harness/judge/ready.TestEachKindOfPoint cmd/drystage.TestTwoBuildsAreTwoVersions"},
	{"a board fell silent before the end in real time", "harness/run/loop.TestNoAccidentPasses harness/board.TestTimedSession"},
	{"an output that no file declares fired", "harness/judge/verdict.TestDoubts harness/show/page.TestLanes cmd/drystage.TestLiarsNeverPass"},
	{"an output switched thousands of times within one tick", "harness/judge/verdict.TestDoubts cmd/drystage.TestLiarsNeverPass"},
	{"a board's program was ended by a signal, or failed, at the end", "harness/board/link.TestProgramsEnd harness/run/loop.TestNoAccidentPasses session/bench_exec"},
	{"a board said that it was armed, and nobody had armed it", "harness/board.TestABoardIsArmedByCommandsOnly harness/board.TestABoardInRealTimeIsArmedByCommandsOnly"},
	{"a board stayed armed after DISARM", "harness/board/conformance.TestFlaws firmware-contract.TestWrongFirmwares"},
	{"a board took sixty sample periods for an answer", "harness/run/loop.TestNoAccidentPasses harness/board.TestWallABoardThatBlocks"},
	{"a rocket flew that can't fly", "session/bench_outside_model harness/judge/verdict.TestWarnings sim/flight.TestWarnings"},
	{"a canopy opened far beyond what it bears", "sim/flight.TestWarnings"},
	{"an integrator whose error is no number warned of nothing", "sim/flight.TestErrorBeyondIsFinite"},
	{"a motor never lit, a canopy never opened", "harness/judge/verdict.TestFiresAndIsAnswered harness/judge/verdict.TestHappens cmd/drystage.TestTheNominalFlightNeedsEachDevice"},
	// Words on the command line and in files.
	{"a board for a role that is not there, or for one twice, left the mock to fly", "cmd/drystage.TestSeatsThatNobodyTakes"},
	{"a report did not say which boards flew", "cmd/drystage.TestReportsNameTheBoards"},
	{"a board's setting had a wrong name, unit, range or channel", "wrong/board-settings.yaml wrong/board-settings-own.yaml harness/files/scenario.TestSettingsOfAScenario harness/files/scenario.TestSettingsTextIsAList"},
	{"a motor was lit by its own burnout", "wrong/lit-by-itself.yaml"},
	{"an output had to fire where it had to stay dark", "wrong/never-beside-fires.yaml"},
	{"a command came after the end", "wrong/command-after-end.yaml"},
	{"a device was meant to open on the pad", "wrong/opens-on-the-pad.yaml"},
	{"a motor had more impulse than its propellant can give", "wrong/motor-too-good.csv"},
	{"a window lay where no flight of this vehicle gets to", "session/lint_warns"},
	{"a value below zero was taken for a flag", "cmd/drystage.TestValuesBelowZero"},
	{"a hint named a unit that nobody writes", "sim/quantity.TestErrorsSayWhatIsMissing wrong/fins-word.yaml"},
	{"a folder of records was no record", "cmd/drystage.TestShowTakesFolders"},
	{"a table beside motors was taken for one", "cmd/drystage.TestTablesBesideMotors harness/files/scenario.TestKindOfTables"},
	{"each command had its own rule for shipped files", "cmd/drystage.TestShippedFilesHaveOneRule"},
	// Files from elsewhere, and the machine.
	{"a rig's file overwrote a file of its choice", "harness/rig.TestAStateFileOverwritesNothing wrong/rig-state-path.yaml session/wall/rig cmd/drystage.TestEnemyFilesDoNoHarm"},
	{"a board's file opened a port", "cmd/drystage.TestPortsAreOpenedByTheCommandLineAlone wrong/board-nmea-port.yaml"},
	{"a pipe with a file's name held a command up for ever", "cmd/drystage.TestPipesCalledLikeFilesHoldNothingUp harness/disk.TestOnlyRegularFilesAreOpened"},
	{"a command went on after SIGINT, SIGTERM or SIGHUP", "cmd/drystage.TestEveryCommandEndsWhenToldTo"},
	{"a file's name wrote to the terminal what it liked", "cmd/drystage.TestNamesReachNoTerminalRaw cmd/drystage.TestOutputHoldsBackWhatMayGoOn wrong/title-control.yaml"},
	{"what a board's program had started outlived a killed bench", "cmd/drystage.TestBoardEndsWithAKilledBench harness/board/link.TestNothingOutlivesItsProgram"},
	{"output that nobody got was no error", "cmd/drystage.TestLostOutputIsNoSuccess cmd/drystage.TestLostOutputOfAProcess"},
	{"a run that was stopped looked whole", "cmd/drystage.TestARunThatWasStoppedNeverLooksWhole session/sweep session/bench_soak"},
	{"pins were not safe soon after kill -9", "cmd/drystage.TestRigIsSafeAfterKill harness/rig.TestGuardMakesPinsSafeAfterKill"},
}

// TestMistakesAreTried holds the list against the tests that there are.
func TestMistakesAreTried(t *testing.T) {
	for _, m := range mistakes {
		require.NotEmpty(t, m.tried, m.was)
		for _, name := range strings.Fields(m.tried) {
			page, isPage := strings.CutPrefix(name, "session/")
			file, isFile := strings.CutPrefix(name, "wrong/")
			switch {
			case isPage:
				assert.FileExists(t, "testdata/session/"+page+".txtar", m.was)
			case isFile:
				assert.FileExists(t, filepath.Join(root, "harness/files/scenario/testdata/wrong", file), m.was)
			default:
				dot := strings.LastIndexByte(name, '.')
				assert.True(t, hasTest(t, name[:dot], name[dot+1:]), "%s: no test %s", m.was, name)
			}
		}
	}
}

// hasTest says that a room has a test of a name.
func hasTest(t *testing.T, room, name string) bool {
	files, err := filepath.Glob(filepath.Join(root, room, "*_test.go"))
	require.NoError(t, err)
	is := regexp.MustCompile(`(?m)^func ` + name + `\(`)
	for _, f := range files {
		text, err := os.ReadFile(f)
		require.NoError(t, err)
		if is.Match(text) {
			return true
		}
	}
	return false
}
