//go:build !amd64

package scan

const hasVector = false

func vectorRows(*vector) {}
