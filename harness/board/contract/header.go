package contract

import (
	"fmt"
	"strings"
)

// cWord is a constant of the contract in C.
type cWord struct {
	name, meaning string
	value         uint32
}

var cWords = []cWord{
	{"VERSION", "of the contract", Version},
	{"MAX_TAIL", "bytes of a tail", MaxTail},
	{"MAX_FRAME", "bytes of the longest frame on the line, without its delimiter", maxFrame},
	{"MAX_CHANNELS", "outputs of a board", MaxChannels},
	{"LOCKSTEP", "mode: TICK drives the board's clock", uint32(Lockstep)},
	{"REAL_TIME", "mode: the board's own clock counts", uint32(RealTime)},
	{"CAN_LOCKSTEP", "bit of capabilities", uint32(CanLockstep)},
	{"CAN_REAL_TIME", "bit of capabilities", uint32(CanRealTime)},
	{"CAN_RESTART", "bit of capabilities", uint32(CanRestart)},
	{"CAN_SETTINGS", "bit of capabilities", uint32(CanSettings)},
	{"CAN_CONTINUITY", "bit of capabilities", uint32(CanContinuity)},
	{"CAN_COMMANDS", "bit of capabilities", uint32(CanCommands)},
	{"CAN_TEST", "bit of capabilities", uint32(CanTest)},
	{"CAN_CIRCUITS", "bit of capabilities", uint32(CanCircuits)},
	{"CAN_MAG", "bit of capabilities", uint32(CanMag)},
	{"FRESH_ACCEL", "bit of IMU's has", uint32(FreshAccel)},
	{"FRESH_GYRO", "bit of IMU's has", uint32(FreshGyro)},
	{"ARM", "command", uint32(Arm)},
	{"DISARM", "command", uint32(Disarm)},
	{"STAGE", "command: light the upper motor", uint32(Stage)},
	{"TEST_GUARD", "exclusive-or HELLO's nonce: TEST's guard word", TestGuard},
	{"TEST_MOST", "ms, the longest pulse of TEST", uint32(TestMost)},
	{"TEST_OBEYED", "TESTED", uint32(TestObeyed)},
	{"TEST_GUARD_WRONG", "TESTED: not the guard word of this run", uint32(TestGuardWrong)},
	{"TEST_LOCKSTEP", "TESTED: no clock would end the pulse", uint32(TestLockstep)},
	{"TEST_ARMED", "TESTED: the board is armed", uint32(TestArmed)},
	{"TEST_TOUCHED", "TESTED: a sample or command has come since power-up, or a flight is remembered", uint32(TestTouched)},
	{"TEST_NONSENSE", "TESTED: no such channel or length", uint32(TestNonsense)},
	{"TEST_BUSY", "TESTED: an output is on", uint32(TestBusy)},
	{"TEST_OTHER", "TESTED: a reason of the board's own", uint32(TestOther)},
	{"OPEN_CIRCUIT", "resistance of an output with nothing on it", OpenCircuit},
}

// cHead is the beginning of the C header.
const cHead = `/* The messages of the drystage contract, for C. Made from the table in harness/board/contract by
 * go generate; change the table, not this file. Nothing here reads or writes beyond the sizes that
 * it names. */
#ifndef DRYSTAGE_MESSAGES_H
#define DRYSTAGE_MESSAGES_H

#include <stdint.h>

`

const cHelpers = `
static inline void drystage_put_u16(uint8_t *p, uint16_t v)
{
    p[0] = (uint8_t)(v & 0xFFu);
    p[1] = (uint8_t)(v >> 8);
}

static inline void drystage_put_u32(uint8_t *p, uint32_t v)
{
    drystage_put_u16(p, (uint16_t)(v & 0xFFFFu));
    drystage_put_u16(&p[2], (uint16_t)(v >> 16));
}

static inline void drystage_put_i16(uint8_t *p, int16_t v) { drystage_put_u16(p, (uint16_t)v); }
static inline void drystage_put_i32(uint8_t *p, int32_t v) { drystage_put_u32(p, (uint32_t)v); }

static inline uint16_t drystage_get_u16(const uint8_t *p)
{
    return (uint16_t)(p[0] | ((uint16_t)p[1] << 8));
}

static inline uint32_t drystage_get_u32(const uint8_t *p)
{
    return drystage_get_u16(p) | ((uint32_t)drystage_get_u16(&p[2]) << 16);
}

/* Defined for every value, and nothing at all in machine code: a conversion of what does not fit would be the
 * compiler's choice, C99 6.3.1.3. */
static inline int16_t drystage_get_i16(const uint8_t *p)
{
    uint16_t u = drystage_get_u16(p);
    return (u <= 0x7FFFu) ? (int16_t)u : (int16_t)(-1 - (int16_t)(0xFFFFu - u));
}

static inline int32_t drystage_get_i32(const uint8_t *p)
{
    uint32_t u = drystage_get_u32(p);
    return (u <= 0x7FFFFFFFuL) ? (int32_t)u : (-1 - (int32_t)(0xFFFFFFFFuL - u));
}

/* Text stops at its first zero; the rest of the field is zero. */
static inline void drystage_put_text(uint8_t *p, const char *text, uint8_t size)
{
    uint8_t i = 0u;
    while ((i < size) && (text[i] != '\0')) {
        p[i] = (uint8_t)text[i];
        i++;
    }
    while (i < size) {
        p[i] = 0u;
        i++;
    }
}

/* text has room for size characters and the zero behind them. */
static inline void drystage_get_text(const uint8_t *p, char *text, uint8_t size)
{
    uint8_t i;
    for (i = 0u; i < size; i++) {
        text[i] = (char)p[i];
    }
    text[size] = '\0';
}
`

// Header gives the C header of the contract: its constants, and for each message its code, the size of its payload, a
// struct, and the functions that convert between the struct and the payload.
func Header() []byte {
	var b strings.Builder
	b.WriteString(cHead)
	for _, w := range cWords {
		value := fmt.Sprintf("%du", w.value)
		if w.value > 1<<16-1 {
			value = fmt.Sprintf("0x%XuL", w.value)
		}
		fmt.Fprintf(&b, "#define DRYSTAGE_%s %s /* %s */\n", w.name, value, w.meaning)
	}
	b.WriteString("\n/* The codes of the messages, and the least bytes of their payloads. */\n")
	for _, m := range table {
		least, _ := m.Sizes()
		fmt.Fprintf(&b, "#define DRYSTAGE_%s 0x%02Xu\n#define DRYSTAGE_%s_SIZE %du\n", m.Name, uint8(m.Code), m.Name, least)
	}
	b.WriteString(cHelpers)
	for i := range table {
		writeMessage(&b, &table[i])
	}
	writeSizes(&b)
	b.WriteString("\n#endif\n")
	return []byte(b.String())
}

func writeMessage(b *strings.Builder, m *Message) {
	fmt.Fprintf(b, "\n/* %s, %s. %s */\n", m.Name, m.From, m.Meaning)
	if len(m.Fields) == 0 {
		return
	}
	short := strings.ToLower(m.Name)
	name := "drystage_" + short + "_msg"
	fmt.Fprintf(b, "typedef struct %s {\n", name)
	for _, f := range m.Fields {
		meaning := f.Meaning
		if f.Unit != "" {
			meaning = f.Unit + "; " + meaning
		}
		fmt.Fprintf(b, cField[f.Type]+" /* %s */\n", f.Name, meaning)
	}
	fmt.Fprintf(b, "} %s;\n", name)
	writeCopy(b, m, cPut, fmt.Sprintf("static inline void drystage_put_%s(uint8_t *p, const %s *m)", short, name))
	writeCopy(b, m, cGet, fmt.Sprintf("static inline void drystage_get_%s(const uint8_t *p, %s *m)", short, name))
}

func writeCopy(b *strings.Builder, m *Message, lines map[Type]string, head string) {
	fmt.Fprintf(b, "\n%s\n{\n", head)
	at := 0
	for _, f := range m.Fields {
		if line := lines[f.Type]; line != "" {
			fmt.Fprintf(b, "    "+line+"\n", f.Name, at)
		}
		at += f.Type.Size()
	}
	b.WriteString("}\n")
}

// writeSizes writes the function that gives the payload size of each message to a board.
func writeSizes(b *strings.Builder) {
	b.WriteString("\n/* The bytes that the payload of a message to a board has; -1: no such message. */\n" +
		"static inline int drystage_host_size(uint8_t code)\n{\n    int size;\n    switch (code) {\n")
	for _, m := range table {
		if m.From == FromHost {
			fmt.Fprintf(b, "    case DRYSTAGE_%s: size = (int)DRYSTAGE_%s_SIZE; break;\n", m.Name, m.Name)
		}
	}
	b.WriteString("    default: size = -1; break;\n    }\n    return size;\n}\n")
}

// A tail is a pointer and a length in C. put and get leave it to the caller; it follows the other fields.
var (
	cField = map[Type]string{
		U8: "    uint8_t %s;", U16: "    uint16_t %s;", U32: "    uint32_t %s;", I16: "    int16_t %s;", I32: "    int32_t %s;",
		Text16: "    char %s[17];", Text24: "    char %s[25];", Tail: "    /* %s: a tail, behind the fields above */"}
	cPut = map[Type]string{
		U8: "p[%[2]d] = m->%[1]s;", U16: "drystage_put_u16(&p[%[2]d], m->%[1]s);", U32: "drystage_put_u32(&p[%[2]d], m->%[1]s);",
		I16: "drystage_put_i16(&p[%[2]d], m->%[1]s);", I32: "drystage_put_i32(&p[%[2]d], m->%[1]s);",
		Text16: "drystage_put_text(&p[%[2]d], m->%[1]s, 16u);", Text24: "drystage_put_text(&p[%[2]d], m->%[1]s, 24u);"}
	cGet = map[Type]string{
		U8: "m->%[1]s = p[%[2]d];", U16: "m->%[1]s = drystage_get_u16(&p[%[2]d]);", U32: "m->%[1]s = drystage_get_u32(&p[%[2]d]);",
		I16: "m->%[1]s = drystage_get_i16(&p[%[2]d]);", I32: "m->%[1]s = drystage_get_i32(&p[%[2]d]);",
		Text16: "drystage_get_text(&p[%[2]d], m->%[1]s, 16u);", Text24: "drystage_get_text(&p[%[2]d], m->%[1]s, 24u);"}
)
