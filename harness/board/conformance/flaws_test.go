package conformance

import (
	"encoding/binary"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/setting"
)

// The points' names, as flaws and defects break them.
const (
	comes        = "WELCOME comes in time"
	echoes       = "WELCOME echoes each HELLO's nonce"
	speaks       = "WELCOME speaks this version"
	claims       = "WELCOME claims at most 16 outputs"
	ticked       = "TICK is answered by one DONE of its time"
	begins       = "outputs are dark and the board is unarmed when a run begins"
	known        = "a setting that the board has is made and confirmed"
	unknown      = "a setting that the board has not is called unknown"
	forgets      = "HELLO forgets settings, and one out of range changes nothing"
	unarmed      = "unarmed, a board stays dark through a flight and stage commands"
	arms         = "COMMAND arms the board, and DONE says so"
	disarm       = "COMMAND disarms the board at once, and DONE says so"
	byeDark      = "BYE makes outputs dark and disarms"
	disarmPad    = "disarmed on the pad, a board stays dark through a flight"
	disarmFlight = "COMMAND disarm makes outputs dark at once, in flight too"
	padRestart   = "restarted while armed on the pad, a board stays dark"
	hours        = "after four hours of clock, and a wrap of its 32 bits in flight, the board does the same"
	moves        = "outputs switch where SETTING puts them, up to the last one"
	circuit      = "a circuit that opens or is shorted fires nothing, armed on the pad and in flight"
	silent       = "after RESTART the board is silent until HELLO"
	boots        = "RESTART raises the count of starts by one"
	restart      = "outputs are dark after RESTART"
	channel      = "OUTPUT and DONE name only outputs that the board has"
	flying       = "after a RESTART in flight the run goes on at HELLO's time"
	wrapped      = "restarted in flight while its clock wraps, the board goes on as near time 0"
	future       = "OUTPUT's time lies between the last TICK and this one"
	agrees       = "OUTPUT and DONE agree"
	darkLaw      = "no output is on while DONE says unarmed"
	itself       = "the board never restarts by itself"
	whole        = "the board's frames are whole and numbered"
)

// TestFlaws: what each flaw breaks, by name. Where fails is empty, the flaw can't be told from a bad line, or only
// lacks what a board may lack; it does not pass either.
func TestFlaws(t *testing.T) {
	for _, c := range []struct {
		flaw   boardtest.Flaw
		fails  []string
		reason string
	}{
		{boardtest.Mute, []string{comes}, "no WELCOME"},
		{boardtest.Hangs, []string{ticked}, "the fourth TICK is not answered"},
		{boardtest.Babbles, []string{comes, whole}, "no frame is sound"},
		{boardtest.Floods, []string{ticked}, "DONE never comes"},
		{boardtest.OldVersion, []string{speaks}, "another version"},
		{boardtest.LiesAboutNonce, []string{echoes}, "another nonce"},
		{boardtest.NoLockstep, nil, "a board may lack it"},
		{boardtest.NoRestart, nil, "a board may lack it"},
		{boardtest.NoCommands, nil, "a board may lack it"},
		{boardtest.FewChannels, []string{channel, agrees}, "it claims no output and switches one"},
		{boardtest.ManyChannels, []string{claims}, "DONE can't tell so many"},
		{boardtest.ClampsSetting, []string{known}, "another value"},
		{boardtest.AcceptsOther, []string{known, unknown}, "another name"},
		{boardtest.MistakesTime, []string{ticked}, "another time"},
		{boardtest.RestartsOnce, []string{itself}, "nobody asked"},
		{boardtest.RestartsAlways, []string{itself}, "nobody asked"},
		{boardtest.KeepsItsCount, []string{boots}, "its count does not rise"},
		{boardtest.LosesEdge, nil, "a frame is missing by number: board or line"},
		{boardtest.ForgetsEdge, []string{agrees}, "DONE tells what no OUTPUT told"},
		{boardtest.NamesNoChannel, []string{channel, agrees}, "channel 99"},
		{boardtest.ForeseesTime, []string{future}, "a second ahead"},
		{boardtest.InventsOutputs, []string{begins, channel, agrees, darkLaw}, "output 16 is always on"},
		{boardtest.DeniesArming, []string{arms, darkLaw}, "it fires and says unarmed"},
		{boardtest.ArmsItself, []string{begins, byeDark, disarm}, "it always says armed"},
		{boardtest.StaysArmed, []string{disarm}, "it takes no heed of disarming"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			r := Run(t.Context(), guestLink(c.flaw), Options{Settings: guestSets})
			assert.Equal(t, c.fails, named(&r, Fail), "%s", text(&r))
			want := harness.Fail
			if c.fails == nil {
				want = harness.Unsure
			}
			assert.Equal(t, want, r.Answer())
		})
	}
}

// TestDefects: those of the mock's defects that concern the contract, not the flight logic.
func TestDefects(t *testing.T) {
	for defect, fails := range map[string][]string{
		"ignores-arming":          {unarmed, darkLaw},
		"stages-unarmed":          {unarmed, darkLaw},
		"fires-at-power-up":       {begins, darkLaw},
		"ignores-disarm":          {disarm},
		"main-on-lost-continuity": {circuit},
		"disarms-after-the-pulse": {disarmFlight, darkLaw},
		"main-on-pad-restart":     {padRestart},
	} {
		r := Run(t.Context(), mockLink(t, defect), Options{Settings: mockSets})
		assert.Equal(t, fails, named(&r, Fail), "%s: %s", defect, text(&r))
	}
}

// TestLacking: what a board does not claim is unsure until the user declares that it lacks it, and even
// then it is no pass of that point.
func TestLacking(t *testing.T) {
	for _, c := range []struct {
		flaw    boardtest.Flaw
		without uint16
		want    harness.Answer
		reason  string
	}{
		{boardtest.NoRestart, 0, harness.Unsure, "not declared"},
		{boardtest.NoRestart, contract.CanRestart, harness.Pass, "declared"},
		{boardtest.NoRestart, contract.CanCommands, harness.Unsure, "something else declared"},
		{boardtest.NoLockstep, 0xFFFF, harness.Pass, "the handshake alone is left"},
		{boardtest.None, 0xFFFF, harness.Pass, "declared, yet claimed: it is tried"},
	} {
		r := Run(t.Context(), guestLink(c.flaw), Options{Settings: guestSets, Without: c.without})
		assert.Equal(t, c.want, r.Answer(), "%s: %s", c.reason, text(&r))
		v := r.Verdict("mock", 7)
		assert.Equal(t, c.want, v.Answer, c.reason)
		for _, p := range r.Points {
			if p.Declared {
				assert.Contains(t, v.Title, p.Name, "stated, not dropped")
			}
		}
		if c.flaw == boardtest.NoRestart {
			assert.Equal(t, []string{silent, boots, restart, padRestart, flying, wrapped}, named(&r, NotClaimed), c.reason)
		}
	}
}

func TestNoSettingNamedIsUnsure(t *testing.T) {
	r := Run(t.Context(), guestLink(boardtest.None), Options{})
	assert.Equal(t, []string{known}, named(&r, Unsure))
	r = Run(t.Context(), guestLink(boardtest.None), Options{Settings: []harness.Setting{{Name: "hold_tiem", Value: 1}}})
	assert.Equal(t, []string{known}, named(&r, Fail), "a mistyped name")
}

// TestNoseElsewhere: a board whose nose axis does not fit the samples does nothing. This must not prove that its
// outputs stay off when unarmed.
func TestNoseElsewhere(t *testing.T) {
	turned := append([]harness.Setting{{Name: "axial_axis", Value: -3}}, mockSets...)
	r := Run(t.Context(), mockLink(t, ""), Options{Settings: turned})
	assert.Equal(t, harness.Unsure, r.Answer())
	assert.Contains(t, named(&r, Unsure), unarmed)
	r = Run(t.Context(), mockLink(t, ""), Options{Settings: turned, Axis: -3})
	assert.Equal(t, harness.Pass, r.Answer(), "%s", text(&r))
}

// remade changes sound frames of a type, and gives them a sound check again.
func remade(code contract.Code, change func(payload []byte)) func([]byte) []byte {
	return func(raw []byte) []byte {
		n := len(raw) - 4
		if n < 2 || contract.Code(raw[0]) != code || castagnoli(raw[:n]) != binary.LittleEndian.Uint32(raw[n:]) {
			return raw
		}
		change(raw[2:n])
		return binary.LittleEndian.AppendUint32(raw[:n:n], castagnoli(raw[:n]))
	}
}

// TestSettingsAndOutputs: the mock behind a line on which a setting gets lost but not its answer, or half of the outputs
// in DONE.
func TestSettingsAndOutputs(t *testing.T) {
	asked := uint32(0)
	ignored := remade(contract.CodeSetting, func(p []byte) {
		asked = binary.LittleEndian.Uint32(p[24:])
		binary.LittleEndian.PutUint32(p[24:], 2000)
	})
	confirmed := remade(contract.CodeAccept, func(p []byte) {
		if p[28] == 1 && asked <= 16000 {
			binary.LittleEndian.PutUint32(p[24:], asked)
		}
	})
	last := uint32(0)
	noted := remade(contract.CodeSetting, func(p []byte) { last, asked = asked, binary.LittleEndian.Uint32(p[24:]) })
	answers := func(by func() uint32) func([]byte) []byte {
		return remade(contract.CodeAccept, func(p []byte) {
			if p[28] == 1 && asked > 16000 {
				binary.LittleEndian.PutUint32(p[24:], by())
			}
		})
	}
	before := answers(func() uint32 { return min(last, 16000) })
	whatever := answers(func() uint32 { return asked })
	refused := uint32(0)
	changed := answers(func() uint32 { refused++; return min(refused/2*3000, 3000) })
	eight := remade(contract.CodeDone, func(p []byte) { p[6] = 0 }) // the high byte of outputs
	for _, c := range []struct {
		reason  string
		in, out func([]byte) []byte
		fails   []string
		why     string
	}{
		{"a setting is confirmed and ignored", ignored, confirmed, []string{moves}, "confirms a SETTING and ignores it: output 2 still switches, where output 16 was set"},
		{"outputs in eight bits", nil, eight, []string{moves, agrees}, "kept in too few bits"},
		{"settings of the run before", noted, before, []string{forgets}, "what was set before HELLO still holds after it"},
		{"any value is taken", noted, whatever, []string{forgets}, "it took a value that is out of range"},
		{"a refused value is kept all the same", noted, changed, []string{forgets}, "a value that was refused has changed the setting"},
		{"none", nil, nil, nil, ""},
	} {
		inner, err := mock.New("")
		require.NoError(t, err)
		r := Run(t.Context(), link.Memory(altered{inner, c.in, c.out}), Options{Settings: []harness.Setting{{Name: "drogue_channel", Value: 2}}, Known: setting.Builtin()})
		assert.Equal(t, c.fails, named(&r, Fail), "%s: %s", c.reason, text(&r))
		if c.why != "" {
			assert.Contains(t, r.first(Fail).Why, c.why, c.reason)
		}
	}
}

// TestClockThatDoesNotWrap: a board that takes no sample from before its latest one is deaf once 32 bits have wrapped.
func TestClockThatDoesNotWrap(t *testing.T) {
	inner, err := mock.New("")
	require.NoError(t, err)
	latest := uint32(0)
	hello := remade(contract.CodeHello, func([]byte) { latest = 0 })
	old := func(p []byte) {
		now := binary.LittleEndian.Uint32(p)
		if latest = max(latest, now); now < latest {
			clear(p[4:8]) // no air, and no fresh acceleration or rate
		}
	}
	baro, imu := remade(contract.CodeBaro, old), remade(contract.CodeIMU, old)
	r := Run(t.Context(), link.Memory(altered{inner, func(raw []byte) []byte { return imu(baro(hello(raw))) }, nil}), Options{Settings: mockSets, Known: setting.Builtin()})
	assert.Equal(t, []string{hours}, named(&r, Fail), "%s", text(&r))
	assert.Contains(t, r.first(Fail).Why, "the board's clock does not last")
}

// TestSelfTestBeforeArming: a board may test itself for seconds before it arms, and one that never arms doesn't hold up the rest.
func TestSelfTestBeforeArming(t *testing.T) {
	for _, c := range []struct {
		takes uint32 // us
		want  harness.Answer
	}{{3_000_000, harness.Pass}, {7_500_000, harness.Pass}, {60_000_000, harness.Fail}} {
		inner, err := mock.New("")
		require.NoError(t, err)
		var asked, now uint32
		waits := false
		command := remade(contract.CodeCommand, func(p []byte) {
			if arm := len(p) == 5 && p[4] == contract.Arm; arm && !waits {
				asked, waits = binary.LittleEndian.Uint32(p), true
			}
		})
		hello := remade(contract.CodeHello, func([]byte) { waits = false })
		tick := remade(contract.CodeTick, func(p []byte) {
			if len(p) == 4 {
				now = binary.LittleEndian.Uint32(p)
			}
		})
		done := remade(contract.CodeDone, func(p []byte) {
			if waits && now-asked < c.takes {
				p[4] = 0 // on the pad; in flight it has been given its time
			}
		})
		r := Run(t.Context(), link.Memory(altered{inner, func(raw []byte) []byte { return tick(hello(command(raw))) }, done}), Options{Settings: mockSets, Known: setting.Builtin()})
		if c.want == harness.Pass {
			assert.Equal(t, c.want, r.Answer(), "%d us: %s", c.takes, text(&r))
		} else {
			assert.Contains(t, named(&r, Fail), darkLaw, "it fires and says that it isn't armed")
			assert.Contains(t, named(&r, Fail), arms)
		}
	}
}
