package comparetest

import "os"

// long says that the long studies were asked for: OFFBEAT_REFERENCE=1.
func long() bool { return os.Getenv("OFFBEAT_REFERENCE") != "" }
