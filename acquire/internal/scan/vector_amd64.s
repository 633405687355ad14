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
	VMOVDQU tens<>(SB), X11
	VMOVDQU hundreds<>(SB), X12
	VMOVDQU myriads<>(SB), X13
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
	ADDQ vector_step(AX), R9
	MOVQ R9, BX
	SHRQ $7, BX
	ANDQ DX, BX
	IMUL3Q $0xf6, BX, BX
	SUBQ BX, R9
	ORQ vector_pass(AX), R9

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
	VPMADDUBSW X11, X1, X1
	VPMADDWD X12, X1, X1
	VPACKUSDW X1, X1, X1
	VPMADDWD X13, X1, X1
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
	VMOVDQU tens<>(SB), X11
	VMOVDQU hundreds<>(SB), X12
	VMOVDQU myriads<>(SB), X13
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
	VPMADDUBSW X11, X0, X0
	VPMADDWD X12, X0, X0
	VPACKUSDW X0, X0, X0
	VPMADDWD X13, X0, X0
	VMOVQ X0, BX
	MOVL BX, DX
	SHRQ $32, BX
	IMUL3Q $100000000, DX, DX
	ADDQ BX, DX
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
