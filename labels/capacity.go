package labels

// dataCodewords holds the number of data codewords of each version (row 0 is version 1) at levels L, M, Q, H: ISO/IEC
// 18004, table 7, as counted by go-qrcode's forced versions; versions 1 to 10 are checked in the tests against a
// table that two other encoders agree with.
var dataCodewords = [40][4]int{
	{19, 16, 13, 9}, {34, 28, 22, 16}, {55, 44, 34, 26}, {80, 64, 48, 36},
	{108, 86, 62, 46}, {136, 108, 76, 60}, {156, 124, 88, 66}, {194, 154, 110, 86},
	{232, 182, 132, 100}, {274, 216, 154, 122}, {324, 254, 180, 140}, {370, 290, 206, 158},
	{428, 334, 244, 180}, {461, 365, 261, 197}, {523, 415, 295, 223}, {589, 453, 325, 253},
	{647, 507, 367, 283}, {721, 563, 397, 313}, {795, 627, 445, 341}, {861, 669, 485, 385},
	{932, 714, 512, 406}, {1006, 782, 568, 442}, {1094, 860, 614, 464}, {1174, 914, 664, 514},
	{1276, 1000, 718, 538}, {1370, 1062, 754, 596}, {1468, 1128, 808, 628}, {1531, 1193, 871, 661},
	{1631, 1267, 911, 701}, {1735, 1373, 985, 745}, {1843, 1455, 1033, 793}, {1955, 1541, 1115, 845},
	{2071, 1631, 1171, 901}, {2191, 1725, 1231, 961}, {2306, 1812, 1286, 986}, {2434, 1914, 1354, 1054},
	{2566, 1992, 1426, 1096}, {2702, 2102, 1502, 1142}, {2812, 2216, 1582, 1222}, {2956, 2334, 1666, 1276},
}

// capacity is the number of characters of one mode that a version holds at a level: the data bits, less the four of
// the mode and the character count, at 11 bits a pair (alphanumeric) or 8 bits a byte (ISO/IEC 18004, 7.4).
func capacity(version int, level Level, mode Mode) int {
	bits := dataCodewords[version-1][level]*8 - 4
	if mode == Bytes {
		if version < 10 {
			return (bits - 8) / 8
		}
		return (bits - 16) / 8
	}
	switch {
	case version < 10:
		bits -= 9
	case version < 27:
		bits -= 11
	default:
		bits -= 13
	}
	n := bits / 11 * 2
	if bits%11 >= 6 {
		n++
	}
	return n
}
