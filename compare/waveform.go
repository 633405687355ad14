package compare

// Waveform is what the capacitor's own voltage shows. Time constants are in s; voltages are ratios to the supply where
// the supply is known, else volts: Unit says which.
type Waveform struct {
	TauCharge          Measured     `json:"tau_charge"`
	TauDischarge       *Measured    `json:"tau_discharge,omitempty"` // absent of a single pulse, whose capacitor is emptied at once
	Upper              Measured     `json:"upper_threshold"`
	Lower              Measured     `json:"lower_threshold"`                // of a single pulse where it starts
	Asymptote          Measured     `json:"asymptote"`                      // where the charge is heading
	DischargeAsymptote *Measured    `json:"discharge_asymptote,omitempty"`  // likewise
	Unit               string       `json:"unit"`                           // "1" or "V", of the four voltages
	Supply             float64      `json:"supply,omitempty"`               // V, by which they were divided
	ChannelScale       float64      `json:"channel_scale,omitempty"`        // limit of the channel's scale that is counted, relative; absent: none is
	ChannelZero        float64      `json:"channel_zero,omitempty"`         // limit of its zero, as a share of the supply; likewise
	LowerOverUpper     Measured     `json:"lower_over_upper"`               // free of the channel's scale
	UpperOverAsymptote Measured     `json:"upper_over_asymptote"`           // likewise
	Residual           float64      `json:"residual"`                       // V, standard deviation about the fitted runs
	Cycles             int          `json:"cycles"`                         // pairs of runs fitted
	LeakConductance    *Conductance `json:"leak_conductance,omitempty"`     // across the capacitor; absent where the charge's asymptote cannot tell
	Leak               *Measured    `json:"leak,omitempty"`                 // ohm across the capacitor that the charge's asymptote shows; absent: none is seen
	DischargePath      *Measured    `json:"discharge_resistance,omitempty"` // ohm from the discharge pin to ground that the discharge's asymptote shows; absent: none beyond the timer's own is seen
	Notes              []string     `json:"notes"`
}

// Conductance is what a measured asymptote says of a conductance, in S, which is never below zero though its estimate may be.
// The interval of 95 % begins at zero where none at all is not excluded.
type Conductance struct {
	Value       float64    `json:"value"`
	Uncertainty float64    `json:"standard_uncertainty"`
	Interval95  [2]float64 `json:"interval95"`
}
