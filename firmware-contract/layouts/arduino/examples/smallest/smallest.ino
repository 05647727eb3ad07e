// A board that switches pin 13 on for a second when the pressure has risen 100 Pa above its lowest value. It is as small
// as possible; don't fly it. For inert benches only: dummy loads, no motor, igniter or charge connected or near.
#include <drystage.h>

static const uint8_t PIN = 13;
static drystage bench;
static drystage_config config;
static uint32_t least, fired;
static bool armed, over;

static void act(uint8_t on)
{
    digitalWrite(PIN, on != 0 ? HIGH : LOW);
    drystage_output(&bench, 1, on);
}

static int benchWrite(void *, const uint8_t *bytes, size_t count) { return Serial.write(bytes, count) == count ? 0 : -1; }
static void benchOff(void *) { act(0); }
static void benchBegin(void *, const drystage_hello_msg *)
{
    least = 0xFFFFFFFFUL;
    fired = 0;
    armed = over = false;
}
static void benchBaro(void *, const drystage_baro_msg *m)
{
    if (m->pressure < least) {
        least = m->pressure;
    } else if (m->pressure - least > 100000UL) {  // mPa
        over = true;
    }
}
static void benchCommand(void *, const drystage_command_msg *m)
{
    if (m->command == DRYSTAGE_ARM) {
        armed = true;
    } else if (m->command == DRYSTAGE_DISARM) {
        armed = false;
        act(0);
    }
    drystage_armed(&bench, armed);
}
static int benchTick(void *, uint32_t time)
{
    if (armed && over && fired == 0) {
        fired = time;
        act(1);
    }
    if (fired != 0 && time - fired >= 1000000UL) {  // us
        act(0);
    }
    return 1;
}

void setup()
{
    pinMode(PIN, OUTPUT);
    digitalWrite(PIN, LOW);
    Serial.begin(115200);
    config.name = "smallest-bench";
    config.channels = 1;
    config.write = benchWrite;
    config.off = benchOff;
    config.begin = benchBegin;
    config.baro = benchBaro;
    config.command = benchCommand;
    config.tick = benchTick;
    drystage_start(&bench, &config, 1);  // yours: a count of starts in memory that survives a power cut
}

void loop()
{
    static uint32_t heard;
    if (Serial.available() > 0) {
        heard = millis();
        drystage_feed(&bench, (uint8_t)Serial.read());
    } else if (millis() - heard > 5000UL) {
        act(0);  // the cable is out: no clock ends the pulse any more
        heard = millis();
    }
}
