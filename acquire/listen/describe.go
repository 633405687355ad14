//go:build !darwin

package listen

import (
	"fmt"
	"strings"

	"go.bug.st/serial/enumerator"
)

// describe tells what the devices behind the ports call themselves, by port, as far as it can be known.
func describe() map[string]string {
	about := map[string]string{}
	ports, err := enumerator.GetDetailedPortsList()
	if err != nil {
		return about // the names are all there is
	}
	for _, p := range ports {
		if p.IsUSB {
			about[p.Name] = strings.TrimSpace(fmt.Sprintf("USB %s:%s %s", p.VID, p.PID, p.Product))
		}
	}
	return about
}
