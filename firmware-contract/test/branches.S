; Branches whose counts are known by hand, for the test of coverage. Behind each instruction stands how often it is executed,
; and of a branch how often it goes on and how often it jumps. Where r18 isn't 5 it switches PA0 on.
.text
.global main
.type main, @function
main:
    sbi 0x01, 0     ; 1
    clr r17         ; 1
    clr r18         ; 1
    ldi r16, 10     ; 1
loop:
    inc r17         ; 10
    sbrc r17, 0     ; 10: on 5, jumps 5
    inc r18         ; 5
    dec r16         ; 10
    brne loop       ; 10: on 1, jumps 9
    cpse r18, r18   ; 1: on 0, jumps 1
    jmp never       ; 0
    cpi r18, 5      ; 1
    breq over       ; 1: on 0, jumps 1
    sbi 0x02, 0     ; 0
    brcs never      ; 0: on 0, jumps 0
over:
    ldi r16, 0      ; 1
again:
    rcall called    ; 256
    brtc next       ; 256: on 128, jumps 128
    inc r19         ; 128
next:
    dec r16         ; 256
    brne again      ; 256: on 1, jumps 255
    sbi 0x1e, 0     ; 1
    sbis 0x1e, 0    ; 1: on 0, jumps 1
    rjmp never      ; 0
    sbic 0x1e, 1    ; 1: on 0, jumps 1
    rjmp never      ; 0
never:
    cli             ; 1
    sleep           ; 1
    rjmp never      ; 0
.size main, .-main

.type called, @function
called:
    bst r16, 0      ; 256
    sbrs r16, 7     ; 256: on 128, jumps 128
    nop             ; 128
    ret             ; 256
.size called, .-called
