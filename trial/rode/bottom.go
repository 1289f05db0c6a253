package rode

// laid is the part of a rode that lies on the bottom, drawn towards the vessel.
type laid struct {
	bottom float64 // unstretched length, m
	give   float64 // its stretch, m
	supple float64 // sum of l/EA over what friction has not eaten, m/N
	work   float64 // its elastic energy, J
	end    float64 // tension at the anchor, N
	rubs   float64 // all the friction there is room for, N
	holds  float64 // friction ratio where the rode leaves the bottom
	joint  bool    // it leaves the bottom at a joint, whose weight it carries in part
}

// lay sums the bottom from where the rode leaves it, as [Rode.touch] says,
// down to the anchor. There the tension is h. Friction acts against a rode
// that is dragged in; where it has eaten the tension the line lies slack.
func (r *Rode) lay(h float64, i int, length, low float64) (b laid) {
	b.end = h
	if length > 0 {
		b.holds = r.use[i].mu
		b.slide(&r.use[i], length)
	} else if i > 0 {
		b.holds = r.use[i-1].mu
		b.joint = true
	}
	for ; i > 0; i-- {
		below := &r.use[i-1]
		// What the line carries of the joint, or presses on it, is low.
		b.rub(below.mu * (r.use[i].joint - low))
		b.slide(below, below.l)
		low = 0
	}
	return b
}

func (b *laid) rub(friction float64) {
	b.rubs += friction
	b.end = max(b.end-friction, 0)
}

// slide takes in l metres of p: the tension falls by mu w a metre to zero.
func (b *laid) slide(p *piece, l float64) {
	b.bottom += l
	top, held := b.end, l
	if top == 0 {
		held = 0
	} else if drop := p.mu * p.w; drop*l > top {
		held = top / drop
	}
	b.rub(p.mu * p.w * l)
	b.give += held * p.inv * (top + b.end) / 2
	b.supple += held * p.inv
	b.work += held * p.inv * (top*top + top*b.end + b.end*b.end) / 6
}
