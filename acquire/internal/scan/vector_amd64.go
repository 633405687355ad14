package scan

import "golang.org/x/sys/cpu"

// hasVector tells that vectorLevels and vectorStates can run here.
var hasVector = cpu.X86.HasAVX

//go:noescape
func vectorLevels(v *vector)

//go:noescape
func vectorStates(v *vector)
