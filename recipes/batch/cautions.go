package batch

// Caution is the reminder for one line, where there is no sheet at hand.
const Caution = "Extraction or the respirator the safety data sheet names, gloves, eye protection; " +
	"small cups, poured out promptly: mixed resin heats itself. The batch sheet has the cautions in full."

// Cautions are the safety lines every sheet carries. They are a reminder, not
// a safety data sheet. The slice is the caller's own.
func Cautions() []string {
	return []string{
		"Follow the safety data sheet of every product, local rules, and licensed practice where it is required; where this sheet differs, they win.",
		"Isocyanates (usually side A) can sensitise lungs and skin for life, below what you can smell. Work under extraction or outdoors, with the respirator the safety data sheet names; stop at any cough or tight chest.",
		"Side B may hold amines, or tin or mercury catalysts: keep it off the skin, out of food areas and out of drains. If the data sheet lists mercury, ask for a grade without it.",
		"Pigment pastes stain and may hold harmful pigments; dry pigment must not become airborne. Wipe damp, never blow or sweep.",
		"Wear nitrile gloves, eye protection and sleeves; change gloves as soon as resin is on them.",
		"Mixed resin heats itself, and a large cup heats most: keep cups within the size on this sheet, pour out promptly, never leave leftovers deep in a cup or lid a hot one. Let it cure spread out, outdoors if it smokes.",
		"Vacuum chambers and pressure pots store energy: rated vessels only, no cracks, the gauge in sight, below the rated limit, vented before opening. Expect the mix to rise.",
		"Clean up with wipes first. Solvents burn and carry resin through skin: little, away from flames and sparks, rags into a closed metal bin.",
		"Water and damp make isocyanates foam: dry cups, dry pigments, and no tight lid on contaminated waste.",
	}
}
