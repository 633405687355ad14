//go:build !amd64

package scan

const (
	hasVector = false
	hasMarks  = false
)

func vectorLevels(*vector)                                          {}
func vectorStates(*vector)                                          {}
func vectorMarks(*byte, int, int, byte, *uint32) (marks, lines int) { return 0, 0 }
func vectorCells(*cells)                                            {}
func vectorTimes(*cells)                                            {}
