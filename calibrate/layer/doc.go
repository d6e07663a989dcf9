// Package layer predicts what an instrument reads on a plane layer.
package layer
