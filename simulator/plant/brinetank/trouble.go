package brinetank

// SetBridge lets a share of the salt hang as a crust that the liquid does not
// reach, while its top stays where it is; 0 breaks it and the salt falls.
func (k *Tank) SetBridge(share float64) {
	if share <= 0 {
		k.free += k.hung
		k.hung, k.atBridging = 0, 0
	} else {
		if k.atBridging == 0 {
			k.atBridging = k.free
			k.bridgeTop = k.top
		}
		more := max(0, min(share*k.atBridging-k.hung, k.free))
		k.hung += more
		k.free -= more
	}
	k.calm = false
	k.settle()
}

// SetMush says how far fine salt has filled the pores at the bottom, 0 to 1.
func (k *Tank) SetMush(m float64) {
	k.mush = m
	k.shape.setPores(k.void * (1 - mushFills*m))
	k.calm = false
	k.settle()
}

// Level is the liquid's height in the well, mm.
func (k *Tank) Level() float64 { return k.level }

// SaltLevel is the height of the salt's top, mm, bridge or not.
func (k *Tank) SaltLevel() float64 {
	if k.hung > 0 {
		return k.bridgeTop
	}
	return k.shape.saltTop(k.free)
}

// Salt is the salt not yet dissolved, Dissolved what is in solution, Water the
// water, all in kg. Litres is the volume of liquid.
func (k *Tank) Salt() float64 { return k.free + k.hung }

// Dissolved is the salt in solution, kg.
func (k *Tank) Dissolved() float64 { return k.dissolved }

// Water is the water, kg.
func (k *Tank) Water() float64 { return k.water }

// Litres is the volume of liquid.
func (k *Tank) Litres() float64 { return k.litres }

// Strength is the salt in a litre of the liquid, kg/L.
func (k *Tank) Strength() float64 {
	if k.litres <= 0 {
		return 0
	}
	return k.dissolved / k.litres
}
