#include "go_asm.h"
#include "textflag.h"

// weights that join neighbouring digits, pairs and fours
DATA tens<>+0(SB)/8, $0x010a010a010a010a
DATA tens<>+8(SB)/8, $0x010a010a010a010a
GLOBL tens<>(SB), RODATA|NOPTR, $16
DATA hundreds<>+0(SB)/8, $0x0001006400010064
DATA hundreds<>+8(SB)/8, $0x0001006400010064
GLOBL hundreds<>(SB), RODATA|NOPTR, $16
DATA myriads<>+0(SB)/8, $0x0001271000012710
DATA myriads<>+8(SB)/8, $0x0001271000012710
GLOBL myriads<>(SB), RODATA|NOPTR, $16

// WEIGHTS loads the weights, JOIN joins the digits of a vector by them into two numbers of eight, SIXTEEN these into one.
#define WEIGHTS \
	VMOVDQU tens<>(SB), X11; \
	VMOVDQU hundreds<>(SB), X12; \
	VMOVDQU myriads<>(SB), X13

#define JOIN(x) \
	VPMADDUBSW X11, x, x; \
	VPMADDWD X12, x, x; \
	VPACKUSDW x, x, x; \
	VPMADDWD X13, x, x

#define SIXTEEN(x) \
	VMOVQ x, BX; \
	MOVL BX, DX; \
	SHRQ $32, BX; \
	IMUL3Q $100000000, DX, DX; \
	ADDQ BX, DX

// AFTER is run.after: low holds the lowest bit of each lane.
#define AFTER(next, step, pass, low, room) \
	ADDQ step, next; \
	MOVQ next, room; \
	SHRQ $7, room; \
	ANDQ low, room; \
	IMUL3Q $0xf6, room, room; \
	SUBQ room, next; \
	ORQ pass, next

// what vectorCells needs of each byte: the digit of zero, the most that may remain, its own place; and lanes to keep
DATA zeros<>+0(SB)/8, $0x3030303030303030
DATA zeros<>+8(SB)/8, $0x3030303030303030
GLOBL zeros<>(SB), RODATA|NOPTR, $16
DATA nines<>+0(SB)/8, $0x0909090909090909
DATA nines<>+8(SB)/8, $0x0909090909090909
GLOBL nines<>(SB), RODATA|NOPTR, $16
DATA places<>+0(SB)/8, $0x0706050403020100
DATA places<>+8(SB)/8, $0x0f0e0d0c0b0a0908
GLOBL places<>(SB), RODATA|NOPTR, $16
DATA window<>+0(SB)/8, $0xffffffffffffffff
DATA window<>+8(SB)/8, $0xffffffffffffffff
DATA window<>+16(SB)/8, $0
DATA window<>+24(SB)/8, $0
DATA window<>+32(SB)/8, $0xffffffffffffffff
DATA window<>+40(SB)/8, $0xffffffffffffffff
GLOBL window<>(SB), RODATA|NOPTR, $48

// func vectorLevels(v *vector)
//
// The loop of foretoldLevels, with the row's fixed bytes and the level's digits sixteen at a time. It needs AVX.
TEXT ·vectorLevels(SB), NOSPLIT, $0-8
	MOVQ v+0(FP), AX
	VMOVDQU vector_want(AX), X6
	VMOVDQU vector_mask(AX), X7
	VMOVDQU vector_level+lanes_base(AX), X8
	VMOVDQU vector_level+lanes_limit(AX), X9
	VMOVDQU vector_level+lanes_order(AX), X10
	WEIGHTS
	MOVQ vector_text(AX), SI
	MOVQ SI, DI
	ADDQ vector_pos(AX), SI
	ADDQ vector_end(AX), DI
	MOVQ SI, R13
	MOVQ vector_levels(AX), R8
	MOVQ vector_rows(AX), CX
	MOVQ vector_next(AX), R9
	MOVQ vector_timeSize(AX), R10
	MOVQ vector_at(AX), R11
	MOVQ vector_scale(AX), R12
	MOVQ $0x0101010101010101, DX

row:
	TESTQ CX, CX
	JZ done
	CMPQ SI, DI
	JAE done

	// the time: its fixed bytes, then the digits foretold
	VPXOR (SI), X6, X0
	VPAND X7, X0, X0
	MOVQ (SI)(R11*1), BX
	XORQ vector_literal(AX), BX
	BSWAPQ BX
	XORQ R9, BX
	JNE done
	AFTER(R9, vector_step(AX), vector_pass(AX), DX, BX)

	// the level: R15 is 1 if it has a minus sign
	MOVBLZX (SI)(R10*1), R15
	XORL $0x2d, R15
	DECQ R15
	SHRQ $63, R15
	LEAQ (SI)(R10*1), BX
	ADDQ R15, BX
	VMOVDQU (BX), X1
	VPSUBB X8, X1, X1
	VPMINUB X9, X1, X2
	VPXOR X1, X2, X2
	VPOR X0, X2, X2
	VPSHUFB X10, X1, X1
	JOIN(X1)
	VCVTDQ2PD X1, X1

	// its exponent's code
	MOVQ vector_exponent(AX), R14
	MOVL (BX)(R14*1), R14
	ADDQ vector_levelSize(AX), BX
	SHLQ $63, R15
	VMOVQ R15, X3
	MOVL R14, R15
	SHRL $13, R14
	ANDL $0x78, R14
	ANDL $7, R15
	ORL R15, R14
	ANDL vector_use(AX), R14
	ORL vector_none(AX), R14
	SHLL $4, R14
	VMULSD (R12)(R14*1), X1, X1
	VDIVSD 8(R12)(R14*1), X1, X1
	VPOR X3, X1, X1
	VMOVSD X1, (R8)

	VPTEST X2, X2
	JNE done
	VUCOMISD X1, X1
	JPS done
	MOVQ SI, R13
	MOVQ BX, SI
	ADDQ $8, R8
	DECQ CX
	JMP row

done:
	MOVQ vector_text(AX), BX
	SUBQ BX, SI
	SUBQ BX, R13
	MOVQ SI, vector_pos(AX)
	MOVQ R13, vector_last(AX)
	MOVQ CX, vector_rows(AX)
	RET

// func vectorStates(v *vector)
//
// The loop of freeStates, with the time's digits sixteen at a time. It needs AVX.
TEXT ·vectorStates(SB), NOSPLIT, $0-8
	MOVQ v+0(FP), AX
	VMOVDQU vector_time+lanes_base(AX), X8
	VMOVDQU vector_time+lanes_limit(AX), X9
	VMOVDQU vector_time+lanes_order(AX), X10
	WEIGHTS
	VMOVSD vector_over(AX), X7
	MOVQ vector_text(AX), SI
	MOVQ SI, DI
	ADDQ vector_pos(AX), SI
	ADDQ vector_end(AX), DI
	MOVQ vector_levels(AX), R8
	MOVQ vector_times(AX), R9
	MOVQ vector_rows(AX), CX
	MOVQ vector_timeSize(AX), R10
	MOVQ vector_size(AX), R11
	MOVQ vector_states(AX), R12

row:
	TESTQ CX, CX
	JZ done
	CMPQ SI, DI
	JAE done

	// the time
	VMOVDQU (SI), X0
	VPSUBB X8, X0, X0
	VPMINUB X9, X0, X1
	VPXOR X0, X1, X1
	VPTEST X1, X1
	JNE done
	VPSHUFB X10, X0, X0
	JOIN(X0)
	SIXTEEN(X0)
	VXORPD X2, X2, X2
	VCVTSI2SDQ DX, X2, X2
	VDIVSD X7, X2, X2
	VMOVSD X2, (R9)

	// the state
	MOVQ (SI)(R10*1), BX
	MOVQ BX, DX
	XORQ vector_line+word_literal(AX), DX
	MOVQ DX, R13
	ADDQ vector_line+word_slack(AX), R13
	ORQ DX, R13
	ANDQ vector_line+word_top(AX), R13
	JNE done
	ANDL $15, BX
	MOVQ (R12)(BX*8), BX
	MOVQ BX, (R8)

	ADDQ R11, SI
	ADDQ $8, R8
	ADDQ $8, R9
	DECQ CX
	JMP row

done:
	SUBQ vector_text(AX), SI
	MOVQ SI, vector_pos(AX)
	SUBQ R11, SI
	MOVQ SI, vector_last(AX)
	MOVQ CX, vector_rows(AX)
	RET

#define START(place) \
	TZCNTQ AX, DX; \
	ADDL R8, DX; \
	MOVL DX, place(R15); \
	BLSRQ AX, AX

// func vectorMarks(text *byte, blocks, at int, delim byte, starts *uint32) (marks, lines int)
//
// The loop of index.mark over whole blocks of 64 bytes. It needs AVX2, BMI1 and POPCNT. Up to eight places of starts that
// it writes too much are written over.
TEXT ·vectorMarks(SB), NOSPLIT, $0-56
	MOVQ text+0(FP), SI
	MOVQ blocks+8(FP), CX
	MOVQ at+16(FP), R8
	INCQ R8
	VPBROADCASTB delim+24(FP), Y6
	MOVQ $10, AX
	VMOVQ AX, X7
	VPBROADCASTB X7, Y7
	MOVQ starts+32(FP), DI
	XORQ R10, R10
	XORQ R11, R11

block:
	TESTQ CX, CX
	JZ done
	VMOVDQU (SI), Y0
	VMOVDQU 32(SI), Y1
	VPCMPEQB Y6, Y0, Y2
	VPCMPEQB Y6, Y1, Y3
	VPCMPEQB Y7, Y0, Y4
	VPCMPEQB Y7, Y1, Y5
	VPOR Y4, Y2, Y2
	VPOR Y5, Y3, Y3
	VPMOVMSKB Y2, AX
	VPMOVMSKB Y3, DX
	SHLQ $32, DX
	ORQ DX, AX
	VPMOVMSKB Y4, BX
	VPMOVMSKB Y5, DX
	SHLQ $32, DX
	ORQ DX, BX
	POPCNTQ AX, R12
	POPCNTQ BX, BX
	ADDQ BX, R11
	LEAQ (DI)(R10*4), R15
	ADDQ R12, R10

starts:
	START(0)
	START(4)
	START(8)
	START(12)
	START(16)
	START(20)
	START(24)
	START(28)
	ADDQ $32, R15
	SUBQ $8, R12
	JGT starts

	ADDQ $64, SI
	ADDQ $64, R8
	DECQ CX
	JMP block

done:
	VZEROUPPER
	MOVQ R10, marks+40(FP)
	MOVQ R11, lines+48(FP)
	RET

// func vectorCells(v *cells)
//
// The number of a cell of each row, up to sixteen bytes behind its sign, read from its end: what stands before it is
// cleared, and the digits before the mark move up over it. It stops at the first cell that needs care. It needs AVX.
TEXT ·vectorCells(SB), NOSPLIT, $0-8
	MOVQ v+0(FP), R12
	MOVQ cells_text(R12), SI
	MOVQ cells_starts(R12), R9
	MOVQ cells_ends(R12), R11
	MOVQ cells_first(R12), R10
	MOVQ cells_out(R12), DI
	MOVQ cells_rows(R12), CX
	MOVQ cells_scales(R12), R8
	VMOVDQU cells_points(R12), X6
	VMOVDQU zeros<>(SB), X5
	VMOVDQU nines<>(SB), X7
	VMOVDQU places<>(SB), X4
	WEIGHTS

row:
	TESTQ CX, CX
	JZ done
	MOVL (R9)(R10*4), BX
	MOVL 4(R9)(R10*4), DX
	DECQ DX
	CMPQ DX, $20
	JB done
	MOVQ cells_power(R12), R14

	// a carriage return behind it, blanks before it
	MOVBLZX -1(SI)(DX*1), AX
	XORL $13, AX
	CMPL AX, $1
	SBBQ $0, DX

blank:
	CMPB (SI)(BX*1), $0x20
	JNE sign
	INCQ BX
	JMP blank

sign:
	XORL R13, R13
	XORL R15, R15
	MOVBLZX (SI)(BX*1), AX
	CMPL AX, $0x2d
	SETEQ R13
	CMPL AX, $0x2b
	SETEQ R15
	ADDQ R13, BX
	ADDQ R15, BX

	// an exponent of a sign and two digits, the first of them zero
	CMPQ cells_tail(R12), $4
	JNE digits
	MOVL -4(SI)(DX*1), AX
	MOVL AX, R15
	ORL $0x20, R15
	ANDL $0x00ff00ff, R15
	CMPL R15, $0x00300065
	JNE done
	MOVBLZX -3(SI)(DX*1), R15
	SUBL $0x2b, R15
	TESTL $0xfffffffd, R15
	JNE done
	SHRL $24, AX
	SUBL $0x30, AX
	CMPL AX, $9
	JHI done
	NEGL R15
	INCL R15
	IMULL R15, AX
	MOVLQSX AX, AX
	ADDQ AX, R14
	SUBQ $4, DX

digits:
	MOVQ DX, R15
	SUBQ BX, R15
	LEAQ -1(R15), AX
	CMPQ AX, $15
	JHI done
	LEAQ window<>(SB), BX
	VMOVDQU -16(SI)(DX*1), X0
	VMOVDQU 16(BX)(R15*1), X2
	VPCMPEQB X6, X0, X1
	VPAND X2, X1, X1
	VPMOVMSKB X1, AX
	SHLL $16, AX
	ORL $0x8000, AX
	BSRL AX, AX
	XORL $31, AX // digits behind the mark; 16: no mark
	VPSUBB X5, X0, X0
	VPAND X2, X0, X0
	VPADDB (BX)(AX*1), X4, X3
	VPSHUFB X3, X0, X0
	VPMINUB X7, X0, X1
	VPXOR X0, X1, X1
	VPTEST X1, X1
	JNE done
	CMPQ R15, $1
	JNE whole
	CMPL AX, $16
	JNE done

whole:
	JOIN(X0)
	SIXTEEN(X0)
	MOVQ DX, BX
	SHRQ $53, BX
	JNE done
	ANDL $15, AX
	SUBQ AX, R14
	CMPQ R14, $44
	JHI done
	SHLQ $4, R14
	VXORPD X1, X1, X1
	VCVTSI2SDQ DX, X1, X1
	CMPQ R14, $(22*16)
	JLE fraction
	VMULSD (R8)(R14*1), X1, X1

fraction:
	VDIVSD 8(R8)(R14*1), X1, X1
	SHLQ $63, R13
	VMOVQ R13, X2
	VPOR X2, X1, X1
	VMOVSD X1, (DI)
	MOVL (R11), R10
	ADDQ $4, R11
	ADDQ $8, DI
	DECQ CX
	JMP row

done:
	MOVQ CX, cells_rows(R12)
	RET

// func vectorTimes(v *cells)
//
// The loop of run.column, for times of sixteen bytes at most with what stands behind them. It needs AVX.
TEXT ·vectorTimes(SB), NOSPLIT, $0-8
	MOVQ v+0(FP), R12
	MOVQ cells_text(R12), SI
	MOVQ cells_starts(R12), R9
	MOVQ cells_ends(R12), R11
	MOVQ cells_first(R12), R10
	MOVQ cells_rows(R12), CX
	MOVQ cells_size(R12), R14
	MOVQ cells_next(R12), R8
	MOVQ cells_step(R12), DI
	MOVQ cells_pass(R12), R13
	MOVQ cells_at(R12), R15
	MOVQ $0x0101010101010101, AX
	VMOVDQU cells_want(R12), X6
	VMOVDQU cells_mask(R12), X7

row:
	TESTQ CX, CX
	JZ done
	MOVL (R9)(R10*4), BX
	MOVL 4(R9)(R10*4), DX
	SUBQ BX, DX
	CMPQ DX, R14
	JNE done
	ADDQ SI, BX
	VPXOR (BX), X6, X0
	VPTEST X7, X0
	JNE done
	MOVQ (BX)(R15*1), DX
	XORQ cells_literal(R12), DX
	BSWAPQ DX
	XORQ R8, DX
	JNE done
	AFTER(R8, DI, R13, AX, DX)
	MOVL (R11), R10
	ADDQ $4, R11
	DECQ CX
	JMP row

done:
	MOVQ R8, cells_next(R12)
	MOVQ CX, cells_rows(R12)
	RET
