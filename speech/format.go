package speech

import (
	"fmt"
	"math/big"
	"strings"
)

var boundWords = [...]string{
	Exact: "", About: "about ", AtLeast: "at least ", Above: "more than ",
	AtMost: "at most ", Below: "less than ", Before: "before ", Between: "",
}

func (b Bound) String() string {
	names := [...]string{"exact", "about", "at-least", "above", "at-most", "below", "before", "between"}
	if int(b) < len(names) {
		return names[b]
	}
	return fmt.Sprintf("Bound(%d)", uint8(b))
}

// FormatQuantity writes a reading with its bound as a person would: "at most 4
// psi", "at least 4/32 inch", "20 to 45 psi", "before 55 psi".
//
// Inches below one stay over 32 where 32 does, as tread depths are quoted (1/8
// is "4/32 inch"), but for quarters and halves ("3/4 inch"). Other inches are
// mixed numbers ("2 1/2 inches"); other units are decimals where four digits
// hold them exactly ("2.5 psi"), else mixed numbers.
func FormatQuantity(q Reading, b Bound) string {
	var s strings.Builder
	if int(b) < len(boundWords) {
		s.WriteString(boundWords[b])
	}
	if q.Low == nil || q.High == nil {
		return s.String() + "?"
	}
	one := big.NewRat(1, 1)
	if q.Unit == Minute && q.High.Sign() > 0 && q.High.Cmp(one) < 0 {
		sixty := big.NewRat(60, 1)
		q = Reading{Low: new(big.Rat).Mul(q.Low, sixty), High: new(big.Rat).Mul(q.High, sixty), Unit: Second}
	}
	s.WriteString(formatValue(q.Low, q.Unit))
	if q.Low.Cmp(q.High) != 0 {
		s.WriteString(" to ")
		s.WriteString(formatValue(q.High, q.Unit))
	}
	plural := q.High.Cmp(one) > 0 || q.Unit != Inch && q.High.Cmp(one) != 0
	switch q.Unit {
	case NoUnit:
	case Inch:
		s.WriteString(pick(plural, " inches", " inch"))
	case Foot:
		s.WriteString(pick(plural, " feet", " foot"))
	case PSI, MPH, RPM, Percent:
		s.WriteString(" " + string(q.Unit))
	default:
		s.WriteString(" " + string(q.Unit) + pick(plural, "s", ""))
	}
	return s.String()
}

func pick(c bool, yes, no string) string {
	if c {
		return yes
	}
	return no
}

func formatValue(v *big.Rat, u Unit) string {
	if v.IsInt() {
		return v.Num().String()
	}
	share := u == NoUnit && v.Num().CmpAbs(v.Denom()) < 0 && v.Denom().Cmp(big.NewInt(32)) <= 0
	if u != Inch && !share {
		if n, exact := v.FloatPrec(); exact && n <= 4 {
			return v.FloatString(n)
		}
	}
	num, den := new(big.Int).Set(v.Num()), v.Denom()
	if u == Inch && v.Sign() > 0 && num.Cmp(den) < 0 && den.IsInt64() {
		if d := den.Int64(); d > 4 && 32%d == 0 {
			return fmt.Sprintf("%d/32", num.Int64()*(32/d))
		}
	}
	if num.CmpAbs(den) < 0 {
		return v.String()
	}
	whole, rest := new(big.Int).QuoRem(num, den, new(big.Int))
	return fmt.Sprintf("%s %s/%s", whole, rest.Abs(rest), den)
}
