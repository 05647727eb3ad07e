package boardtest

import (
	"drystage/harness/board"
	"drystage/harness/board/contract"
)

// Flaw is the one promise that a fake breaks.
type Flaw int

// The flaws. None is the good fake.
const (
	None           Flaw = iota
	Mute                // never says anything
	Hangs               // stops answering after some ticks
	Babbles             // answers with garbage
	Floods              // never stops talking
	OldVersion          // speaks another version
	LiesAboutNonce      // echoes another nonce
	NoLockstep          // can't be driven by TICK
	NoRestart           // can't restart on request
	NoCommands          // takes no commands
	FewChannels         // has fewer outputs than wires
	ManyChannels        // claims more outputs than DONE has bits
	ClampsSetting       // sets another value than the one sent
	AcceptsOther        // answers for another setting
	MistakesTime        // DONE of another time
	RestartsOnce        // restarts by itself, once
	RestartsAlways      // restarts at every tick
	KeepsItsCount       // its count of starts never rises
	LosesEdge           // an OUTPUT is lost on the way
	ForgetsEdge         // never sends OUTPUT
	NamesNoChannel      // OUTPUT of a channel that does not exist
	ForeseesTime        // OUTPUT of a future time
	InventsOutputs      // DONE with a channel that does not exist
	DeniesArming        // says that it is unarmed, and fires
	ArmsItself          // says that it is armed, and nobody has armed it
	StaysArmed          // ignores COMMAND disarm
)

// Fatal lists the flaws that must end a run, with the error of each. Of the others, some are counted in Health, and
// some matter only when the missing ability is needed.
func Fatal() map[Flaw]error {
	return map[Flaw]error{
		Mute: board.ErrSilent, Hangs: board.ErrSilent, Babbles: board.ErrGarbage, Floods: board.ErrFlood,
		OldVersion: board.ErrVersion, LiesAboutNonce: board.ErrNonce, NoLockstep: board.ErrUnable,
		NoRestart: board.ErrUnable, NoCommands: board.ErrUnable, FewChannels: board.ErrUnable, ManyChannels: board.ErrChannel,
		ClampsSetting: board.ErrSetting, AcceptsOther: board.ErrSetting, MistakesTime: board.ErrTime,
		RestartsAlways: board.ErrRestarts, KeepsItsCount: board.ErrRestarts, NamesNoChannel: board.ErrChannel,
		ForeseesTime: board.ErrTime, InventsOutputs: board.ErrChannel,
	}
}

func (g *Fake) badWelcome(w *contract.Welcome) {
	switch g.Flaw {
	case OldVersion:
		w.Version = contract.Version - 1
	case LiesAboutNonce:
		w.Nonce ^= 1
	case NoLockstep:
		w.Capabilities &^= contract.CanLockstep
	case NoRestart:
		w.Capabilities &^= contract.CanRestart
	case NoCommands:
		w.Capabilities &^= contract.CanCommands
	case FewChannels:
		w.Channels = 0
	case ManyChannels:
		w.Channels = 200
	}
}

// badTick does what a flaw does instead of answering a TICK.
func (g *Fake) badTick() bool {
	switch {
	case g.Flaw == Floods:
		for range 4000 {
			g.out = g.enc.Log(g.out, &contract.Log{Text: []byte("still here, still here, still here")})
		}
	case g.Flaw == RestartsOnce && g.ticks == 5, g.Flaw == RestartsAlways:
		g.start()
		g.out = g.enc.Welcome(append(g.out, 0), &contract.Welcome{Version: contract.Version, Channels: Channels, Boots: g.boots})
	default:
		return false
	}
	return true
}
