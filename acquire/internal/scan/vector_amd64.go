package scan

import "golang.org/x/sys/cpu"

var (
	hasVector = cpu.X86.HasAVX                                          // vectorLevels, vectorStates and vectorCells can run here
	hasMarks  = cpu.X86.HasAVX2 && cpu.X86.HasBMI1 && cpu.X86.HasPOPCNT // vectorMarks can
)

//go:noescape
func vectorLevels(v *vector)

//go:noescape
func vectorStates(v *vector)

//go:noescape
func vectorMarks(text *byte, blocks, at int, delim byte, starts *uint32) (marks, lines int)

//go:noescape
func vectorCells(v *cells)

//go:noescape
func vectorTimes(v *cells)
