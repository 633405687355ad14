package scan

import "golang.org/x/sys/cpu"

// hasVector tells that vectorRows can run here.
var hasVector = cpu.X86.HasAVX

//go:noescape
func vectorRows(v *vector)
