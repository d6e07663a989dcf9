package color

// The model grid: 31 bands from 400 to 700 nm, 10 nm apart.
const (
	Bands   = 31
	FirstNM = 400
	StepNM  = 10
	LastNM  = FirstNM + (Bands-1)*StepNM
)

// Reflectance is a reflectance factor, 0 to 1 of the perfect reflecting
// diffuser, on the model grid: element i belongs to FirstNM + i*StepNM nm.
// A brightened or fluorescent surface may exceed 1.
type Reflectance [Bands]float64

// Constant is the flat curve of reflectance factor r in every band.
func Constant(r float64) Reflectance {
	var f Reflectance
	for i := range f {
		f[i] = r
	}
	return f
}

// WavelengthNM is the wavelength in nm of band i, 0 <= i < Bands.
func WavelengthNM(i int) int { return FirstNM + i*StepNM }
