/* What the library and the reference firmware use of string.h, for a compiler without a C library. */
#ifndef STRING_H
#define STRING_H

#include <stddef.h>

void *memcpy(void *to, const void *from, size_t count);
void *memset(void *to, int byte, size_t count);
size_t strlen(const char *s);
int strcmp(const char *a, const char *b);
char *strncat(char *to, const char *from, size_t count);

#endif
