package cli

import (
	"maps"
	"slices"
	"strings"
)

// What a chosen channel carries. Each list is in the order in which the rooms want the channels.
var (
	timedRoles = []string{"out", "cap", "temperature"} // the output, the capacitor's waveform, a temperature in °C
	latchRoles = []string{"out", "set", "reset"}       // of a bistable
)

// roles reads what --channel chose: a name or a number for each role; without a role it is the output's.
func roles(flags []string) (map[string]string, error) {
	chosen := map[string]string{}
	for _, f := range flags {
		role, name, found := strings.Cut(f, "=")
		if !found || !slices.Contains(slices.Concat(timedRoles, latchRoles), role) {
			role, name = "out", f
		}
		switch {
		case name == "":
			return nil, usagef("--channel %q names no channel; expected a name, a number from 1, or %s=NAME", f, role)
		case chosen[role] != "":
			return nil, usagef("--channel was given twice for the %s channel, as %s and as %s; expected one", role, chosen[role], name)
		}
		chosen[role] = name
	}
	return chosen, nil
}

// choose puts the chosen channels into the order of the roles that there are here.
func (o *readOptions) choose(allowed []string) error {
	for role, name := range o.roles {
		if !slices.Contains(allowed, role) {
			return usagef("--channel %s=%s: no such channel is wanted here; expected %s=NAME", role, name, strings.Join(allowed, "=NAME, "))
		}
	}
	for _, role := range []string{"cap", "temperature"} {
		if o.roles[role] != "" && o.roles["out"] == "" {
			return usagef("--channel %s=%s stands alone; expected --channel out=NAME beside it", role, o.roles[role])
		}
	}
	o.Channels = nil
	for _, role := range allowed {
		if name := o.roles[role]; name != "" {
			o.Channels = append(o.Channels, name)
		}
	}
	return nil
}

// place is the index of a role's channel among those chosen; -1: it was not.
func (o *readOptions) place(role string) int { return slices.Index(o.Channels, o.roles[role]) }

// chooseLatch does the same for a bistable, whose channels bear their roles' names where none is chosen.
func (o *readOptions) chooseLatch() error {
	chosen := map[string]string{}
	for _, role := range latchRoles {
		chosen[role] = role
	}
	maps.Copy(chosen, o.roles)
	o.roles = chosen
	return o.choose(latchRoles)
}
