package layer

import "math"

// fresnel is the reflectance of unpolarised light at a smooth boundary, met at
// cosine inside from the resin of refractive index n, air beyond: (6). It is 1
// where the light is totally reflected.
func fresnel(n, inside float64) float64 {
	sin := n * math.Sqrt(max(0, 1-inside*inside))
	if sin >= 1 {
		return 1
	}
	outside := math.Sqrt(1 - sin*sin)
	s := (n*inside - outside) / (n*inside + outside)
	p := (n*outside - inside) / (n*outside + inside)
	return (s*s + p*p) / 2
}

// refracted is the cosine inside the resin of light that meets its surface from
// air at cosine outside.
func refracted(n, outside float64) float64 {
	return math.Sqrt(1 - (1-outside*outside)/(n*n))
}
