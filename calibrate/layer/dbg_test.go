package layer
import ("testing";"fmt")
func TestDbg(t *testing.T) {
	for _,n := range []float64{1,1.0001,1.01,1.5} {
		s,_ := NewSlab(Optics{Index:n,Directions:12,ViewDegrees:8})
		fmt.Println(n, s.d.mu, s.d.surface, s.d.view)
		sum:=0.0
		for _,r := range s.d.root { sum+=r*r }
		fmt.Println(sum, s.solve(0.9,1), doubled(s,.9,1,22))
	}
}
