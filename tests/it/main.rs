mod layers;
