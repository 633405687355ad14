package compare

// Charge is the charge or discharge of a capacitor by itself, fitted to a capture that shows no pulses.
type Charge struct {
	Source   string   `json:"source"`
	Tau      Measured `json:"tau"`           // s, the clock's term included
	Final    Measured `json:"final_voltage"` // V, where it is heading; the channel's own scale and zero are not counted
	Start    Measured `json:"start_voltage"` // V, where the fitted run begins
	Begin    float64  `json:"begin"`         // s, when that is, on the capture's axis
	Residual float64  `json:"residual"`      // V, standard deviation about the fitted run
}
