// Package course says how a capture's times run: their noise, their drift against time or temperature and the parts that
// would make it, their changes, and the Allan deviation.
package course
