// Package step fits the step that a time took at an instant the user marked ("cooled C1"), and says which
// part's change would explain the steps of both times.
//
// Model (structural time series with an intervention: Harvey, Forecasting, Structural Time Series Models and
// the Kalman Filter, 1989, 7.6): the observed value is a level that wanders as a random walk, plus the step
// times its response 1 - exp(-(t-mark)/τ), plus white noise of known standard deviation. Neither the walk nor
// τ is known: the step is averaged over a grid of both, each weighted with its restricted likelihood, so that
// its uncertainty holds both.
package step
