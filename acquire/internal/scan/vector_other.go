//go:build !amd64

package scan

const hasVector = false

func vectorLevels(*vector) {}
func vectorStates(*vector) {}
