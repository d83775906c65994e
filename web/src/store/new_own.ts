/* What a new container, solute or substance begins with: sound as it stands, its figures to be replaced. */
const texts = {
  containers: (key: string) => `key: ${key}
name: ${key}
kind: vial
inner_diameter: 22 mm
wall: 1 mm
brim_volume: 13.5 mL
port_diameter: 12.6 mm
glass_mass: 10.2 g
`,
  solutes: (key: string) => `key: ${key}
name: ${key}
molar_mass_g_mol: 342.3
anchor_kind: glass
anchor_temperature: -32 °C
glass_temperature: 60 °C
source: to be filled in
`,
  substances: (key: string) => `key: ${key}
name: ${key}
source: to be filled in
crystallises: not in practice
molar_mass_g_mol: 55.08
melting_temperature: 180.4 K
boiling_temperature: 97.3 °C
critical_temperature: 561 K
critical_pressure: 42.6 bar
fusion_enthalpy_J_mol: 5030
flash_point: 2 °C
lower_explosive_limit: 3.1 %
vapour_pressure: {form: DIPPR101, coefficients: [82.699, -6703.5, -9.1506, 7.5424e-6, 2], lowest: 180.4 K, highest: 561 K}
liquid_density_kg_m3: 782
solid_density_kg_m3: 900
liquid_heat_capacity_J_mol_K: 119
solid_heat_capacity_J_mol_K: {form: LINEAR, coefficients: [33, 0.33], lowest: 80 K, highest: 180 K}
gas_heat_capacity_J_mol_K: 73
`,
};

export function newOwn(kind: keyof typeof texts, key: string): string {
  return texts[kind](key);
}
