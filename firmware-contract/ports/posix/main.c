/* The reference firmware as a process: standard input and output are its line. It has no pins. Its
 * non-volatile memory lasts as long as the process, so a RESTART simulates a power cut. */
#include <poll.h>
#include <stdlib.h>
#include <time.h>
#include <unistd.h>

#include "../board.h"

#define BEAT 5 /* ms: in real time the logic runs at least as often */
#define REST 100 /* else, to see a silent cable soon after its 5 s */

const char port_name[] = "reference";

int port_write(const uint8_t *bytes, size_t count)
{
    while (count > 0u) {
        ssize_t n = write(STDOUT_FILENO, bytes, count);
        if (n <= 0) {
            return -1;
        }
        bytes += n;
        count -= (size_t)n;
    }
    return 0;
}

uint32_t port_clock(void)
{
    struct timespec t;
    (void)clock_gettime(CLOCK_MONOTONIC, &t);
    return (uint32_t)(((uint64_t)t.tv_sec * 1000000u) + ((uint64_t)t.tv_nsec / 1000u));
}

void port_restart(void) {}
void flight_pin(uint8_t channel, int on) { (void)channel; (void)on; }

int main(void)
{
    static flight_memory memory;
    struct pollfd in = {.fd = STDIN_FILENO, .events = POLLIN};
    uint8_t bytes[256];
    if (board_start(&memory, 1u) != DRYSTAGE_OK) {
        return EXIT_FAILURE;
    }
    for (;;) {
        int some = poll(&in, 1u, board_by_clock() ? BEAT : REST);
        ssize_t n = (some > 0) ? read(STDIN_FILENO, bytes, sizeof bytes) : 0;
        if ((some < 0) || ((some > 0) && (n <= 0))) {
            return EXIT_SUCCESS;
        }
        if (n > 0) {
            board_feed(bytes, (size_t)n);
        }
        board_pass();
    }
}
