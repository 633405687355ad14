//go:build !linux

package cli

func widePages() {}
