#include "flash.h"

#include <fcntl.h>
#include <sys/mman.h>
#include <unistd.h>

static uint64_t (*counts)[2]; /* NULL: nobody counts */

/* The file is mapped, so it is whole however the bridge ends. */
int flash_count(const avr_t *avr, const char *file)
{
    size_t size = (((size_t)avr->flashend + 1u) / 2u) * sizeof counts[0];
    int fd = open(file, O_RDWR | O_CREAT | O_TRUNC, 0644);
    void *at;
    if ((fd < 0) || (ftruncate(fd, (off_t)size) != 0)) {
        return 0;
    }
    at = mmap(NULL, size, PROT_READ | PROT_WRITE, MAP_SHARED, fd, 0);
    (void)close(fd);
    if (at == MAP_FAILED) {
        return 0;
    }
    counts = at;
    return 1;
}

int flash_counts(void) { return counts != NULL; }

void flash_ran(avr_flashaddr_t at, avr_flashaddr_t next)
{
    if (counts != NULL) {
        counts[at / 2u][0]++;
        counts[at / 2u][1] += (next != at + 2u);
    }
}

int flash_flip(avr_t *avr, avr_flashaddr_t at)
{
    unsigned word;
    if (((at & 1u) != 0u) || (at >= avr->flashend)) {
        return 0;
    }
    word = avr->flash[at] | ((unsigned)avr->flash[at + 1u] << 8);
    if ((word & 0xF800u) == 0xF000u) { /* BRBS, BRBC */
        word ^= 0x0400u;
    } else if (((word & 0xFC08u) == 0xFC00u) || ((word & 0xFD00u) == 0x9900u)) { /* SBRC, SBRS; SBIC, SBIS */
        word ^= 0x0200u;
    } else {
        return 0;
    }
    avr->flash[at + 1u] = (uint8_t)(word >> 8);
    return 1;
}
